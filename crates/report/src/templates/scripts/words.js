// Text into an element. Characters that turn the direction of text are closed in one by one, as in the page's own words.
function put(element, text) {
  element.replaceChildren(...text.split(/([\u202a-\u202e\u2066-\u2069])/).map((piece, i) => {
    if (i % 2 === 0) return piece;
    const closed = document.createElement("bdi");
    closed.textContent = piece;
    return closed;
  }));
}
