/** The label of a sample: its id as a QR code, and eight signs of it to be written on the bag. Neither tells the site or a name. */
import { generate } from "lean-qr";

/** The last eight signs, in two groups: random in a UUID of version 7, so that two bags of a day differ. */
export function short(id: string): string {
  const end = id.replaceAll("-", "").slice(-8).toUpperCase();
  return `${end.slice(0, 4)} ${end.slice(4)}`;
}

/** The modules of the code as one SVG path of squares; `size` with the quiet zone of four modules on each side. */
export function code(text: string): { size: number; path: string } {
  const found = generate(text);
  const quiet = 4;
  let path = "";
  for (let y = 0; y < found.size; y += 1) {
    for (let x = 0; x < found.size; x += 1) if (found.get(x, y)) path += `M${x + quiet} ${y + quiet}h1v1h-1z`;
  }
  return { size: found.size + 2 * quiet, path };
}
