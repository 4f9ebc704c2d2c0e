import { startActions } from './actions.ts';
import { startBasis } from './basis.ts';
import { startLive } from './live.ts';
import { startPlots } from './plots.ts';

/* The browser's part of the status page. The page is whole without it: it keeps it as things are, draws, and has things done. */

document.documentElement.classList.add('scripted');
startBasis();
startActions();
const plots = startPlots();
startLive(plots.changed);
