// What lists and tables on the page are built of.

export function node(name, className, text = "") {
  const made = document.createElement(name);
  made.className = className;
  made.textContent = text;
  return made;
}
