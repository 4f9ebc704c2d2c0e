import { answerProcess } from '../rim/base/ask-process.ts';
import { readKnownList } from '../rim/manifest/known-list.ts';
import type { ListOrder } from '../rim/manifest/list-port.ts';

/** Entry of the process that reads one list. A drive that hangs takes this process along and nothing else. */
answerProcess((order) => {
  const { root, place, base } = order as ListOrder;
  return readKnownList(root, { place, base });
});
