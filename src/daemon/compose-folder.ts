import * as nodeFs from 'node:fs';
import { answerProcess } from '../rim/base/ask-process.ts';
import { lookAtFolder } from '../rim/volume/folder-look.ts';

/** Entry of the process that looks at one folder named by hand, once. A mount that hangs takes this process along and nothing else. */
answerProcess((path) => lookAtFolder(nodeFs, String(path)));
