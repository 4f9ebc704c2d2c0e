import * as nodeFs from 'node:fs';
import { lookAtFolder } from '../rim/volume/folder-look.ts';

/** Entry of the process that looks at one folder named by hand, once. A mount that hangs takes this process along and nothing else. */
process.on('disconnect', () => process.exit(0));
process.send?.(lookAtFolder(nodeFs, process.argv[2] ?? ''));
