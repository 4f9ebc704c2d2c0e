import { recordTree } from '../../../src/rim/manifest/tree-histories.ts';
import { inShort, operation, walk } from './trees.ts';

/* Lists a tree once and says what came of it; to be killed. Arguments: the tree, the day. */

const [top = '', day = '0'] = process.argv.slice(2);
console.log(JSON.stringify(inShort(recordTree(walk(top), operation(Number(day))))));
