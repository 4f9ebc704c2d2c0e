import { userInfo } from 'node:os';

/** The system's name of whoever calls; the number of a user that has no name. */
export function personName(): string {
  try {
    return userInfo().username;
  } catch {
    return `user ${process.getuid?.() ?? 'unknown'}`;
  }
}
