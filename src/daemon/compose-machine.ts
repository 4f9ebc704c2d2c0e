import * as nodeFs from 'node:fs';
import type { MachinePort } from '../core/machine-port.ts';
import { machinePort } from '../rim/system/machine.ts';

/** The machine that this runs on. */
export const composeMachine = (stateDir: string): MachinePort => machinePort(nodeFs, stateDir);
