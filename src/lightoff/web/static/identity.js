// Time-ordered ids, made where the entry is made (RFC 9562, version 7).
let last = 0;

export function newId(now = Date.now()) {
  // Two ids of one millisecond would sort at random: the later one is given the next.
  last = Math.max(now, last + 1);
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let i = 0, time = last; i < 6; i += 1) {
    bytes[5 - i] = time % 256;
    time = Math.floor(time / 256);
  }
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (each) => each.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
