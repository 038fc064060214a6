/** UUIDv7 (RFC 9562): 48 bits of milliseconds, 74 random bits; ids made later on this phone sort later. */

let last = 0;

export function newId(now: number = Date.now()): string {
  // A clock set back must not shuffle what was made in order.
  last = now > last ? now : last + 1;
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let i = 0, rest = last; i < 6; i++, rest = Math.floor(rest / 256)) bytes[5 - i] = rest % 256;
  bytes[6] = 0x70 | (bytes[6]! & 0x0f);
  bytes[8] = 0x80 | (bytes[8]! & 0x3f);
  const hex = Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/** The moment as the phone's clock has it, with its offset: its date is the date where the person stands. */
export function moment(at: Date = new Date()): string {
  const two = (n: number) => String(Math.abs(n)).padStart(2, "0");
  const offset = -at.getTimezoneOffset();
  const sign = offset < 0 ? "-" : "+";
  const zone = `${sign}${two(Math.trunc(offset / 60))}:${two(offset % 60)}`;
  return `${day(at)}T${two(at.getHours())}:${two(at.getMinutes())}:${two(at.getSeconds())}${zone}`;
}

/** The calendar day where the person stands, YYYY-MM-DD. */
export function day(at: Date = new Date()): string {
  const two = (n: number) => String(n).padStart(2, "0");
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}
