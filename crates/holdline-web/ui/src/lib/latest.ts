// A slider moves faster than answers come. One question is under way at a time,
// and of those that wait only the latest is asked.

/** Wraps `ask` so that calls are coalesced; `on_answer` hears only answers still worth hearing. */
export function latest<Q, A>(
  ask: (question: Q) => Promise<A>,
  on_answer: (answer: A, question: Q) => void | Promise<void>,
  on_refused: (why: unknown, question: Q) => void,
): (question: Q) => void {
  let under_way = false;
  let waiting: { question: Q } | null = null;

  async function run(question: Q): Promise<void> {
    under_way = true;
    let next: { question: Q } | null = { question };
    while (next) {
      const now: Q = next.question;
      try {
        await on_answer(await ask(now), now);
      } catch (why) {
        on_refused(why, now);
      }
      next = waiting;
      waiting = null;
    }
    under_way = false;
  }

  return (question) => {
    if (under_way) waiting = { question };
    else void run(question);
  };
}
