/** JSON of the daemon. Throws with what it says, in a sentence. */
export async function getJson<Answer>(path: string): Promise<Answer> {
  return answered<Answer>(await fetched(path, { headers: { accept: 'application/json' } }));
}

/** Has the daemon do something. Throws with what it says, in a sentence. */
export async function postJson<Answer>(path: string, body: unknown): Promise<Answer> {
  return answered<Answer>(
    await fetched(path, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify(body),
    }),
  );
}

/** What a browser says of a daemon that is not there ("Failed to fetch") nobody understands. */
async function fetched(path: string, how: RequestInit): Promise<Response> {
  try {
    return await fetch(path, how);
  } catch {
    throw new Error('headroomd does not answer; "headroomd status" tells whether it runs.');
  }
}

async function answered<Answer>(response: Response): Promise<Answer> {
  const text = await response.text();
  if (response.ok) return JSON.parse(text) as Answer;
  throw new Error(reasonIn(text) ?? `headroomd answered ${response.status}.`);
}

function reasonIn(text: string): string | null {
  try {
    const { error } = JSON.parse(text) as { error?: unknown };
    return typeof error === 'string' ? error : null;
  } catch {
    return text.trim() === '' ? null : text.trim().slice(0, 300);
  }
}
