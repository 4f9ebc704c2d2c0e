import sax from 'sax';
import { type ChainLink, chainTrouble } from '../../core/backup/chain.ts';
import { normalValue } from '../../core/backup/mhl-hash-value.ts';
import { ManifestError } from './manifest-error.ts';

const MOST_LINKS = 100_000;
const LIST = 'ascmhldirectory/hashlist';

/**
 * The generations that the text of a chain file names.
 * @throws ManifestError `damaged`
 */
export function parseChain(text: string): ChainLink[] {
  const parser = sax.parser(true, { xmlns: false, position: true });
  const links: ChainLink[] = [];
  const open: string[] = [];
  const fail = (what: string): never => {
    throw new ManifestError('damaged', `${what} (line ${parser.line + 1}).`);
  };
  let link = { number: Number.NaN, file: '', c4: '' };
  parser.onerror = (error) => fail(error.message.split('\n')[0] ?? '');
  parser.ondoctype = () => fail('A document type is not allowed in a chain');
  parser.onopentag = ({ name, attributes }) => {
    open.push(name.slice(name.indexOf(':') + 1));
    if (open.length > 8) fail('Its elements lie too deep in one another');
    if (open.length === 1 && open[0] !== 'ascmhldirectory') fail('It is XML, but no chain of hash lists');
    if (open.join('/') === LIST) link = { number: numberOf(attributes['sequencenr']), file: '', c4: '' };
  };
  parser.ontext = (piece) => {
    const at = open.join('/');
    if (at === `${LIST}/path`) link.file += piece;
    if (at === `${LIST}/c4`) link.c4 += piece;
  };
  parser.onclosetag = () => {
    if (open.join('/') === LIST) links.push({ ...link, c4: link.c4.trim() });
    open.pop();
    if (links.length > MOST_LINKS) fail(`It names more than ${MOST_LINKS} lists`);
    if (links.some(({ c4 }, index) => index === links.length - 1 && normalValue('c4', c4) === null)) {
      fail('An entry has no C4 identifier');
    }
  };
  parser.write(text).close();
  const trouble = chainTrouble(links);
  if (trouble !== null) fail(`The chain is not whole: ${trouble}`);
  return links;
}

function numberOf(attribute: unknown): number {
  return typeof attribute === 'string' && /^\d+$/.test(attribute) ? Number(attribute) : Number.NaN;
}
