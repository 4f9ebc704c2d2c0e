/** Node has it; the types of Node leave it to those of browsers. */
interface WithWasm {
  WebAssembly: { Memory: new (size: { initial: number }) => { buffer: ArrayBuffer } };
}

/** WebAssembly pages; each begins at an address that is whole in 4 KiB, as O_DIRECT wants its memory. */
const PAGE = 65_536;

/** Zeroed memory whose address is a multiple of 4 KiB: a plain Buffer's is not. `bytes` is rounded up to 64 KiB. */
export function pageMemory(bytes: number): Buffer {
  const { WebAssembly } = globalThis as unknown as WithWasm;
  return Buffer.from(new WebAssembly.Memory({ initial: Math.ceil(bytes / PAGE) }).buffer);
}
