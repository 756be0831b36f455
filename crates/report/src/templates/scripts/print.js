// A page printed alone, behind the opening.
for (const page of document.querySelectorAll(".page")) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "print";
  button.textContent = "Print this page alone";
  button.addEventListener("click", () => {
    document.body.classList.add("one-page");
    page.classList.add("alone");
    window.print();
  });
  page.querySelector(".reader").after(button);
}
window.addEventListener("afterprint", () => {
  document.body.classList.remove("one-page");
  for (const page of document.querySelectorAll(".alone")) page.classList.remove("alone");
});
