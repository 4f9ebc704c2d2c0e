import { createHash } from 'node:crypto';
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

/** A file as a list by hand has it; the values are made by whoever calls this. */
export interface FileByHand {
  path: string;
  size: number;
  md5?: string;
  xxh128?: string;
  xxh64?: string;
  previousPath?: string;
}

/** SMPTE ST 2114 as it reads: SHA-512 as one number, in base 58, filled up to 88 digits. Nothing of ours is used. */
export function c4ByHand(bytes: Uint8Array): string {
  const digits = '123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz';
  let rest = BigInt(`0x${createHash('sha512').update(bytes).digest('hex')}`);
  let text = '';
  for (; rest > 0n; rest /= 58n) text = `${digits[Number(rest % 58n)]}${text}`;
  return `c4${text.padStart(88, '1')}`;
}

/** Writes `ascmhl/` with these generations and its chain, after the ASC Media Hash List Specification 1.0. */
export function historyByHand(root: string, name: string, generations: readonly (readonly FileByHand[])[]): void {
  const folder = join(root, 'ascmhl');
  mkdirSync(folder);
  const links = generations.map((files, index) => {
    const file = `${String(index + 1).padStart(4, '0')}_${name}_2027-02-11_09000${index}Z.mhl`;
    const text = manifest(files, index === 0 ? 'original' : 'verified');
    writeFileSync(join(folder, file), text);
    return `<hashlist sequencenr="${index + 1}"><path>${file}</path><c4>${c4ByHand(Buffer.from(text))}</c4></hashlist>`;
  });
  writeFileSync(
    join(folder, 'ascmhl_chain.xml'),
    `<?xml version="1.0" encoding="UTF-8"?>\n<ascmhldirectory xmlns="urn:ASC:MHL:DIRECTORY:v2.0">${links.join('')}</ascmhldirectory>\n`,
  );
}

function manifest(files: readonly FileByHand[], action: string): string {
  const hashes = files.map(({ path, size, previousPath, ...values }) => {
    const each = Object.entries(values).map(([format, value]) => `<${format} action="${action}">${value}</${format}>`);
    const previous = previousPath === undefined ? '' : `<previousPath>${previousPath}</previousPath>`;
    return `<hash><path size="${size}">${path}</path>${each.join('')}${previous}</hash>`;
  });
  return `<?xml version="1.0" encoding="UTF-8"?>
<hashlist version="2.0" xmlns="urn:ASC:MHL:v2.0">
<creatorinfo><creationdate>2027-02-11T09:00:00Z</creationdate><hostname>on-set</hostname><tool version="1">by hand</tool></creatorinfo>
<processinfo><process>in-place</process><ignore><pattern>ascmhl</pattern></ignore></processinfo>
<hashes>${hashes.join('\n')}</hashes>
</hashlist>
`;
}
