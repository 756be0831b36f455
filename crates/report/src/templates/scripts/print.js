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
// What is folded on the screen is printed whole.
let unfolded = [];
window.addEventListener("beforeprint", () => {
  unfolded = [...document.querySelectorAll("details.more:not([open])")];
  for (const part of unfolded) part.open = true;
});
window.addEventListener("afterprint", () => {
  for (const part of unfolded) part.open = false;
  document.body.classList.remove("one-page");
  for (const page of document.querySelectorAll(".alone")) page.classList.remove("alone");
});
