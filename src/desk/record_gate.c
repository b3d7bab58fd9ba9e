/* A thread that reads the build record when the book says that it changed, every half second at most, and keeps the
 * answer for a session that must not wait. A look that fails leaves the last answer. Whoever asks never waits for
 * the disk; ew_gate_why takes a mutex that is held for a copy only.
 *
 *            a step before load opened
 *   FREE <------------------------------> SHUT (why)      told once at each arrow, from the gate's thread
 *            all of them are done, or struck */
#include "desk/record_gate.h"
#include "base/error.h"
#include "book/build.h"
#include "desk/build.h"
#include <string.h>

#define LOOK_MS    500
#define NAMED_MOST 3 /* steps named; the rest are counted */

struct ew_gate {
  struct ew_book *book;
  gint64 engine_id;
  ew_gate_says says;
  gpointer user;
  GThread *thread;
  GMutex mutex;
  GCond wake;
  gboolean stopping;
  gint64 seen; /* changes of the record when it was last looked at */
  ew_message *why;
};

EW_MESSAGE_MANY(steps_open, "desk.gate-steps-open", EW_DANGER,
                "the build record has {steps} step open before load: {list}",
                "the build record has {steps} steps open before load: {list}");
EW_MESSAGE(steps_more, "desk.gate-steps-more", EW_DANGER, "and {more} more");

gboolean ew_gate_look(struct ew_book *book, gint64 engine_id, ew_message **why, GError **error) {
  GError *problem = NULL;
  g_autoptr(GPtrArray) open = ew_build_blocks(book, engine_id, EW_GATE_LOAD, &problem);
  *why = NULL;
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  if (!open || open->len == 0)
    return TRUE;
  g_autoptr(GPtrArray) list = ew_messages_new();
  for (guint i = 0; i < open->len && i < NAMED_MOST; i++)
    ew_messages_add(list, ew_message_copy(open->pdata[i]));
  if (open->len > NAMED_MOST)
    ew_messages_add(list, ew_message(&steps_more, ew_say_count("more", open->len - NAMED_MOST)));
  *why = ew_message(&steps_open, ew_say_count("steps", open->len), ew_say_messages("list", list));
  return TRUE;
}

/* A look that fails leaves the last answer as it was: it is still the best that is known. */
static void look_again(struct ew_gate *gate) {
  g_autoptr(ew_message) why = NULL;
  if (!ew_gate_look(gate->book, gate->engine_id, &why, NULL))
    return;
  g_mutex_lock(&gate->mutex);
  gboolean changed = why && gate->why ? !ew_message_equal(why, gate->why) : why != gate->why;
  ew_message_free(gate->why);
  gate->why = why ? ew_message_copy(why) : NULL;
  g_mutex_unlock(&gate->mutex);
  if (changed)
    gate->says(why, gate->user);
}

static gpointer work(gpointer user) {
  struct ew_gate *gate = user;
  for (;;) {
    g_mutex_lock(&gate->mutex);
    gint64 until = g_get_monotonic_time() + LOOK_MS * 1000;
    while (!gate->stopping && g_cond_wait_until(&gate->wake, &gate->mutex, until))
      ;
    gboolean last = gate->stopping;
    g_mutex_unlock(&gate->mutex);
    if (last)
      return NULL;
    gint64 now;
    if (!ew_build_changes(gate->book, &now, NULL))
      continue; /* asked again in a moment; the last answer is still the best that is known */
    if (now != gate->seen)
      look_again(gate);
    gate->seen = now;
  }
}

struct ew_gate *ew_gate_open(const char *book_path, gint64 engine_id, ew_gate_says says,
                             gpointer user, GError **error) {
  struct ew_gate *gate = g_new0(struct ew_gate, 1);
  gate->engine_id = engine_id;
  gate->says = says;
  gate->user = user;
  g_mutex_init(&gate->mutex);
  g_cond_init(&gate->wake);
  gate->book = ew_book_open(book_path, FALSE, error);
  if (!gate->book || !ew_build_changes(gate->book, &gate->seen, error) ||
      !ew_gate_look(gate->book, gate->engine_id, &gate->why, error)) {
    ew_gate_close(gate);
    return NULL;
  }
  if (gate->why)
    says(gate->why, user);
  gate->thread = g_thread_new("gate", work, gate);
  return gate;
}

void ew_gate_close(struct ew_gate *gate) {
  if (!gate)
    return;
  g_mutex_lock(&gate->mutex);
  gate->stopping = TRUE;
  g_cond_signal(&gate->wake);
  g_mutex_unlock(&gate->mutex);
  if (gate->thread)
    g_thread_join(gate->thread);
  ew_book_close(gate->book);
  g_mutex_clear(&gate->mutex);
  g_cond_clear(&gate->wake);
  ew_message_free(gate->why);
  g_free(gate);
}

ew_message *ew_gate_why(struct ew_gate *gate) {
  if (!gate)
    return NULL;
  g_mutex_lock(&gate->mutex);
  ew_message *why = gate->why ? ew_message_copy(gate->why) : NULL;
  g_mutex_unlock(&gate->mutex);
  return why;
}
