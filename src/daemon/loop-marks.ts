import type { LoopMark } from '../core/health.ts';
import type { Clock } from '../core/ports.ts';

/** What a loop touches that moves by itself. */
export interface BeatMark {
  moved(): void;
}

/** What a loop touches that works when there is something to do. */
export interface LineMark extends BeatMark {
  /** There is one thing more to do. */
  begins(): void;
  /** One thing is done, well or not. */
  ends(): void;
}

export interface LoopKind extends Pick<LoopMark, 'loop' | 'patienceMs'> {
  of?: string;
  isOutside?: boolean;
}

/** Where all loops leave their marks; it knows nothing of them but when they moved last. Cheap. */
export interface LoopMarks {
  /** A loop that begins now and moves by itself from then on. */
  beat(kind: LoopKind): BeatMark;
  /** One that moves as long as there is something to do. */
  line(kind: LoopKind): LineMark;
  all(): LoopMark[];
}

export function createLoopMarks(clock: Pick<Clock, 'ticks'>): LoopMarks {
  const marks: LoopMark[] = [];

  function add({ of, isOutside = false, ...kind }: LoopKind, waiting: number | null): LoopMark {
    const mark = { ...kind, of: of ?? null, isOutside, waiting, movedAt: clock.ticks() };
    marks.push(mark);
    return mark;
  }

  const move = (mark: LoopMark): void => {
    mark.movedAt = clock.ticks();
  };

  return {
    beat(kind) {
      const mark = add(kind, null);
      return { moved: () => move(mark) };
    },
    line(kind) {
      const mark = add(kind, 0);
      let waiting = 0;
      return {
        moved: () => move(mark),
        begins() {
          // What comes to what waits already moves nothing.
          if (waiting === 0) move(mark);
          waiting += 1;
          mark.waiting = waiting;
        },
        ends() {
          move(mark);
          waiting -= 1;
          mark.waiting = waiting;
        },
      };
    },
    all: () => marks.map((mark) => ({ ...mark })),
  };
}

/** For whoever has nobody who looks. */
export const NO_MARK: LineMark = { moved() {}, begins() {}, ends() {} };
