/**
 * Wakes whoever decides when a slot may have come. A hint and no promise: it is silent while the machine sleeps, over hours that the
 * clocks skip, and for what was due while nothing ran. So `decide` is asked once a minute as well, and it alone says what is due.
 */
export interface NightlyTimer {
  /** `text`: five cron fields that the settings accepted; `zone`: IANA name. Throws a RangeError on others. The answer ends it. */
  start(text: string, zone: string, onSlot: () => void): () => void;
}
