import type { MethodName, StoreMethods } from './protocol.ts';

/** What one call gives back: a small value and a list that may be long. */
export interface Answer<Value, Listed> {
  value: Value;
  list: Listed[];
}

export type StoreTable = {
  [Name in MethodName]: (
    args: StoreMethods[Name]['args'],
    list: StoreMethods[Name]['item'][],
  ) => Answer<StoreMethods[Name]['value'], StoreMethods[Name]['listed']>;
};
