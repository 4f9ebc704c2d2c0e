import { spawn } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { ALLOCATOR, NODE_OPTIONS } from '../../../src/rim/watch/root-process.ts';

/** A program of the folder `programs`, run as the process of a root is, with the collector within its reach, and the JSON that it ends with. */
export function startProgram<Result>(
  name: string,
  given: readonly string[],
): { result: Promise<Result>; finish: () => void } {
  const program = fileURLToPath(new URL(`./programs/${name}`, import.meta.url));
  const child = spawn(process.execPath, ['--expose-gc', ...NODE_OPTIONS, program, ...given], {
    env: { ...process.env, ...ALLOCATOR },
    stdio: ['pipe', 'pipe', 'inherit'],
  });
  const result = new Promise<Result>((resolve, reject) => {
    let said = '';
    child.stdout.on('data', (chunk: Buffer) => {
      said += chunk.toString();
    });
    child.once('error', reject).once('close', (code) => {
      if (code === 0) resolve(JSON.parse(said) as Result);
      else reject(new Error(`${name} ended with ${code}`));
    });
  });
  return { result, finish: () => child.stdin.end() };
}
