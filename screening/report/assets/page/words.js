/* Words and numbers: elements made from plain text, what is said aloud, and units as the reader has chosen them.
   Text of the data reaches the page through textContent alone. */
const byId = (id) => document.getElementById(id);
const isCalm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
const isNarrow = () => window.matchMedia("(max-width: 760px)").matches;

function node(tag, className, text) {
  const made = document.createElement(tag);
  if (className) { made.className = className; }
  if (text !== undefined) { made.textContent = text; made.dir = "auto"; }
  return made;
}

function button(text, whenUsed, className) {
  const made = node("button", className || "", text);
  made.type = "button";
  made.addEventListener("click", whenUsed);
  return made;
}

function makeStatus() {
  let hush = 0;
  return function say(text, stays) {
    byId("status").textContent = text;
    window.clearTimeout(hush);
    if (!stays) { hush = window.setTimeout(() => { byId("status").textContent = ""; }, 5000); }
  };
}

/* Text that differs by units comes as { metric, us }; all other text as it is. */
function makeUnits(data) {
  const units = { name: data.units, changed: [] };
  units.tell = (text) => (text && typeof text === "object" ? text[units.name] : text);
  units.format = (value, unit) => {
    const [factor, symbol, decimals] = data.shown[units.name][unit];
    const text = (value * factor).toLocaleString("en-US", { minimumFractionDigits: decimals, maximumFractionDigits: decimals });
    return symbol === "%" || symbol === "\u00b0" || !symbol ? text + symbol : text + " " + symbol;
  };
  units.length = (metres) => (metres * data.shown[units.name].m[0]).toLocaleString("en-US", { minimumFractionDigits: 1, maximumFractionDigits: 1 }) + " " + data.shown[units.name].m[1];
  units.factorOf = (unit) => data.shown[units.name][unit][0];
  units.symbolOf = (unit) => data.shown[units.name][unit][1];
  units.choose = (name) => {
    units.name = name;
    document.querySelectorAll("[data-metric]").forEach((part) => { part.textContent = part.dataset[name]; });
    units.changed.forEach((change) => change());
  };
  document.querySelectorAll("[name=units]").forEach((choice) => {
    choice.checked = choice.value === units.name;
    choice.addEventListener("change", () => units.choose(choice.value));
  });
  return units;
}

function numberList(rows) {
  const list = node("dl");
  rows.forEach(([term, value, meaning]) => {
    const name = node("dt", "", term);
    if (meaning) { name.title = meaning; }
    list.append(name, node("dd", "", value));
  });
  return list;
}

/* Hands a text to the reader as a file; nothing leaves the computer. */
function saveFile(name, type, text) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: type }));
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  window.setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}
