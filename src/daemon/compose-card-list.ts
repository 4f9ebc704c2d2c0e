import * as nodeFs from 'node:fs';
import { answerProcess } from '../rim/base/ask-process.ts';
import { type CardListOrder, readListOnCard } from '../rim/card/read-list.ts';
import { readKnownList } from '../rim/manifest/known-list.ts';

/** Entry of the process that reads one list on a mounted card. A reader that hangs takes this process along and nothing else. */
answerProcess((order) => readListOnCard(order as CardListOrder, nodeFs, readKnownList));
