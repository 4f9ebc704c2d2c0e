/** The drive that headroomd's own state lies on. */
export interface StateRoom {
  /** The state folder. */
  path: string;
  /** What can still be written there. */
  availableBytes: number;
  /** What the databases and the other files in it take up. */
  ownBytes: number;
}

/** What the machine tells of itself. Never rejects. */
export interface MachinePort {
  /** Seconds since it was started, those it slept counted; `null`: not told. */
  uptime(): number | null;
  /** `null`: it cannot be asked. */
  stateRoom(): Promise<StateRoom | null>;
}
