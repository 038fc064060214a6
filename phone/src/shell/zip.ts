/** A ZIP file without compression (APPNOTE 6.3.10, method 0): text is short, and photos are compressed already. */

const TABLE = Uint32Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k++) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  return c;
});

export function crc32(bytes: Uint8Array): number {
  let crc = ~0;
  for (const byte of bytes) crc = TABLE[(crc ^ byte) & 255]! ^ (crc >>> 8);
  return ~crc >>> 0;
}

function numbers(...fields: [value: number, bytes: 2 | 4][]): Uint8Array<ArrayBuffer> {
  const view = new DataView(new ArrayBuffer(fields.reduce((sum, [, size]) => sum + size, 0)));
  let at = 0;
  for (const [value, size] of fields) {
    if (size === 2) view.setUint16(at, value, true);
    else view.setUint32(at, value, true);
    at += size;
  }
  return new Uint8Array(view.buffer);
}

export async function zip(files: [name: string, content: Blob][], at = new Date()): Promise<Blob> {
  const time = (at.getHours() << 11) | (at.getMinutes() << 5) | (at.getSeconds() >> 1);
  const date = ((at.getFullYear() - 1980) << 9) | ((at.getMonth() + 1) << 5) | at.getDate();
  const parts: BlobPart[] = [];
  const directory: BlobPart[] = [];
  let [offset, listed] = [0, 0];
  for (const [name, content] of files) {
    const raw = new TextEncoder().encode(name);
    const crc = crc32(new Uint8Array(await content.arrayBuffer()));
    // Version 2.0, names in UTF-8 (bit 11), stored.
    const shared: [number, 2 | 4][] = [
      [20, 2], [0x800, 2], [0, 2], [time, 2], [date, 2], [crc, 4], [content.size, 4], [content.size, 4], [raw.length, 2], [0, 2],
    ];
    const head = numbers([0x04034b50, 4], ...shared);
    const entry = numbers([0x02014b50, 4], [20, 2], ...shared, [0, 2], [0, 2], [0, 2], [0, 4], [offset, 4]);
    parts.push(head, raw, content);
    directory.push(entry, raw);
    offset += head.length + raw.length + content.size;
    listed += entry.length + raw.length;
  }
  const end = numbers(
    [0x06054b50, 4], [0, 2], [0, 2], [files.length, 2], [files.length, 2], [listed, 4], [offset, 4], [0, 2],
  );
  return new Blob([...parts, ...directory, end], { type: "application/zip" });
}
