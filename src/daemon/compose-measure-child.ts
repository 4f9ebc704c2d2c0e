import { serveMeasuring } from '../rim/measure/measure-process.ts';

/** Entry of the process that measures one volume, once. */
serveMeasuring();
