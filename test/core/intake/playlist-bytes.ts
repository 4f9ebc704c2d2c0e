/**
 * A playlist as the published description lays it out (AVCHD MPL File Format, "as determined from" two makers' cameras):
 * header of 3Ah bytes, size, number of items, two bytes, items of 82 bytes. `item` is what follows the nine characters of
 * the name.
 */
export function playlist(
  items: readonly { name: string; item: readonly number[] }[],
  more: Partial<{ magic: string; start: number }> = {},
) {
  const { magic = 'MPLS0100', start = 0x3a } = more;
  const bytes = new Uint8Array(0x3a + 10 + items.length * 82 + 60);
  const view = new DataView(bytes.buffer);
  const put = (at: number, text: string) =>
    bytes.set(
      [...text].map((each) => each.charCodeAt(0)),
      at,
    );
  put(0, magic);
  view.setUint32(8, start);
  view.setUint32(0x3a, 6 + items.length * 82);
  view.setUint32(0x3e, items.length);
  items.forEach(({ name, item }, index) => {
    const at = 0x3a + 10 + index * 82;
    view.setUint16(at, 80);
    put(at + 2, name);
    bytes.set(item, at + 12);
  });
  return bytes;
}
