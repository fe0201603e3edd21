// Numbers as people type them: the grammar of work/typed_numbers.py, to the letter. One separator, point or
// comma, no grouping. A comma before exactly three figures could be a thousands sign, so it is asked about.
const NUMBER = /^([+\-\u2212]?)(\d{1,20})(?:([.,])(\d{1,20}))?$/;
const MOST_SHOWN = 40;

// { value } for a number with its figures as typed, { key, values } for the sentence of what is none.
export function understood(text) {
  const typed = text.trim();
  const got = shortened(typed);
  if (!typed) return { key: "empty", values: {} };
  const found = NUMBER.exec(typed);
  if (!found) return { key: whyNot(typed), values: { got } };
  const [, sign, whole, separator, decimals] = found;
  if (separator === "," && decimals.length === 3 && /[^0]/.test(whole)) {
    return { key: "grouped", values: { got, large: `${whole}${decimals}`, small: `${whole}.${decimals}` } };
  }
  const minus = sign === "-" || sign === "\u2212" ? "-" : "";
  const figures = whole.replace(/^0+(?=\d)/, "");
  return { value: separator ? `${minus}${figures}.${decimals}` : `${minus}${figures}` };
}

// Whether more keys could still make a number of it: nobody is corrected in the middle of a word.
export const isHalfTyped = (text) => /^[+\-\u2212]?(\d+[.,])?$/.test(text.trim());

// What a meter shows beyond its range.
export const isDashes = (text) => /^[-\u2013\u2014]{2,}$/.test(text.trim());

function whyNot(typed) {
  const bare = typed.replace(/^[+\-\u2212]+/, "").toLowerCase();
  if (["nan", "inf", "infinity", "sonan", "snan"].includes(bare)) return "not_finite";
  if (/^[-\u2013\u2014.,_ ]*$/.test(bare)) return "dashes";
  if ((bare.match(/[.,]/g) ?? []).length > 1 || /\d[ '_\u00a0\u202f]\d/.test(bare)) return "two_separators";
  if (/^[\d.,]+e[+-]?\d+$/.test(bare)) return "exponent";
  return "not_a_number";
}

// Short and printable enough to stand in a sentence.
function shortened(text) {
  const clean = [...text].slice(0, MOST_SHOWN + 1).map((each) => (each !== " " && /[\p{C}\p{Z}]/u.test(each) ? "?" : each));
  return clean.length <= MOST_SHOWN ? clean.join("") : `${clean.slice(0, MOST_SHOWN - 1).join("")}\u2026`;
}
