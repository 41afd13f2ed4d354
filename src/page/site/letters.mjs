// Bytes as letters that a page may hold: 13 bits in two of 91, where base64 has 12 in two of 64. A page of 5 MB is so
// some 0.4 MB smaller. The letters are printable ASCII without those that mean something to HTML or to scripts.

const [FIRST, LAST] = [0x21, 0x7e];
const LEFT_OUT = ["&", "<", "\\"].map((letter) => letter.charCodeAt(0));
const BITS = 13;
const letters = Array.from({ length: LAST - FIRST + 1 }, (_, i) => FIRST + i).filter((letter) => !LEFT_OUT.includes(letter));

/** How many bytes there are, a space, the letters for them. */
export function toLetters(bytes) {
  const text = new Uint8Array(2 * Math.ceil((8 * bytes.length) / BITS));
  let [bits, count, to] = [0, 0, 0];
  const put = () => {
    const two = bits % 2 ** BITS;
    text[to++] = letters[two % letters.length];
    text[to++] = letters[Math.floor(two / letters.length)];
    bits >>>= BITS;
    count -= BITS;
  };
  for (const byte of bytes) {
    bits |= byte << count;
    count += 8;
    if (count >= BITS) put();
  }
  if (count > 0) put();
  return `${bytes.length} ${new TextDecoder().decode(text)}`;
}

/** The bytes that letters stand for. */
export function fromLetters(text) {
  const value = new Uint8Array(LAST + 1);
  letters.forEach((letter, i) => (value[letter] = i));
  const begin = text.indexOf(" ") + 1;
  const bytes = new Uint8Array(Number(text.slice(0, begin)));
  let [bits, count, to] = [0, 0, 0];
  for (let at = begin; at < text.length; at += 2) {
    bits |= (value[text.charCodeAt(at)] + letters.length * value[text.charCodeAt(at + 1)]) << count;
    count += BITS;
    for (; count >= 8 && to < bytes.length; count -= 8) {
      bytes[to++] = bits;
      bits >>>= 8;
    }
  }
  return bytes;
}
