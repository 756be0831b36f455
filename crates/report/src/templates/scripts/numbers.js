// Numbers as the rest of the report writes them: a comma every three digits, the true minus sign, a no-break space
// before a unit.
const GAP = "\u00a0";

function fixed(value, decimals) {
  if (!Number.isFinite(value)) return "not a number";
  const [whole, fraction] = Math.abs(value).toFixed(decimals).split(".");
  const zero = !/[1-9]/.test(whole + (fraction || ""));
  const sign = value < 0 && !zero ? "\u2212" : "";
  return sign + whole.replace(/\B(?=(\d{3})+$)/g, ",") + (fraction ? "." + fraction : "");
}

function significant(value, digits) {
  if (value === 0 || !Number.isFinite(value)) return fixed(value, 0);
  const power = Number(Math.abs(value).toExponential(digits - 1).split("e")[1]) - digits + 1;
  if (power < 0) return fixed(value, Math.min(12, -power));
  const unit = 10 ** power;
  return fixed(Math.round(value / unit) * unit, 0);
}

// Without zeros that say nothing: 6, 2.5.
function tidy(value) {
  return significant(value, 4).replace(/(\.\d*?)0+$/, "$1").replace(/\.$/, "");
}

// How often something happens in a period: what is hardly ever seen needs no digits.
function times(value) {
  return value > 0 && value < 0.01 ? "fewer than 0.01" : significant(value, 3);
}

function money(amount, currency) {
  const size = Math.abs(amount);
  const text = amount !== 0 && size < 0.995 ? significant(amount, 3) : fixed(amount, size < 99.995 ? 2 : 0);
  return currency ? currency + GAP + text : text;
}

function percent(share) {
  const value = share * 100;
  const edge = Math.min(Math.abs(value), Math.abs(100 - value));
  if (edge !== 0 && edge < 0.005) return (value < 50 ? "less than 0.01" : "more than 99.99") + GAP + "%";
  const decimals = edge === 0 || edge >= 9.95 ? 0 : edge >= 0.095 ? 1 : 2;
  return fixed(value, decimals).replace(/\.0$/, "") + GAP + "%";
}
