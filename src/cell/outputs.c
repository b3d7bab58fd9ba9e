/* The state machine of a request; its diagram and its invariants are in the header. */
#include "cell/outputs.h"
#include "cell/output_drive.h"
#include <math.h>

#define RETRY_S 0.5

enum output_state { WAITS, TRYING, FAILED, DONE };

struct output {
  enum output_state state;
  guint tries;
  double again_s; /* FAILED: not before */
};

struct ew_outputs {
  ew_output_send send;
  ew_output_says says;
  gpointer user;
  GArray *list;   /* struct ew_output_spec; referenced */
  GArray *states; /* struct output, one of each */
  gboolean asked;
  guint round; /* one more with each asking: an answer to an earlier one is recognised by it */
  double now_s;
  GThreadPool *slow;
  GAsyncQueue *answers;       /* struct job* */
  struct ew_gpio_lines *gpio; /* of the slow thread */
};

/* To the slow thread, and back with its answer. It holds the list, which may be exchanged meanwhile. */
struct job {
  GArray *list;
  guint at, round;
  ew_message *why; /* NULL: done */
};

static struct ew_output_spec *spec_of(GArray *list, guint at) {
  g_assert(at < list->len);
  return &g_array_index(list, struct ew_output_spec, at);
}

static struct output *output_of(const struct ew_outputs *o, guint at) {
  g_assert(at < o->states->len);
  return &g_array_index(o->states, struct output, at);
}

static void job_free(struct job *job) {
  g_array_unref(job->list);
  ew_message_free(job->why);
  g_free(job);
}

static void check(const struct ew_outputs *o) {
  gboolean waited = FALSE;
  g_assert(o->states->len == o->list->len);
  for (guint i = 0; i < o->states->len; i++) {
    const struct output *one = output_of(o, i);
    g_assert((one->state == WAITS) == (one->tries == 0));
    g_assert(o->asked || one->state == WAITS);
    g_assert(!waited || one->state == WAITS);
    waited |= one->state == WAITS;
  }
}

EW_MESSAGE(not_done, "cell.output-not-done", EW_DANGER, "the recording ended before it was done");
EW_MESSAGE(nobody_takes, "cell.output-no-taker", EW_DANGER,
           "no source accepts lines from this program (write control=yes in its URL)");

static void begin(struct ew_outputs *o, gboolean asked) {
  g_array_set_size(o->states, 0);
  g_array_set_size(o->states, o->list->len); /* zeroed: WAITS */
  o->asked = asked;
  o->round++;
}

static void do_job(gpointer data, gpointer user) {
  struct job *job = data;
  struct ew_outputs *o = user;
  job->why = ew_output_drive(spec_of(job->list, job->at), o->gpio);
  g_async_queue_push(o->answers, job);
}

struct ew_outputs *ew_outputs_new(ew_output_send send_line, ew_output_says says, gpointer user) {
  g_assert(send_line && says);
  struct ew_outputs *o = g_new0(struct ew_outputs, 1);
  o->send = send_line;
  o->says = says;
  o->user = user;
  o->list = g_array_new(FALSE, TRUE, sizeof(struct ew_output_spec));
  o->states = g_array_new(FALSE, TRUE, sizeof(struct output));
  o->gpio = ew_gpio_lines_new(NULL);
  o->answers = g_async_queue_new();
  o->slow = g_thread_pool_new(do_job, o, 1, FALSE, NULL); /* one thread: the order is kept */
  return o;
}

/* What was tried has an answer: told when it was done, and the first time that it was not. */
static void answered(struct ew_outputs *o, guint at, const ew_message *why) {
  struct output *one = output_of(o, at);
  g_assert(one->tries > 0 && o->asked);
  one->state = why ? FAILED : DONE;
  one->again_s = o->now_s + RETRY_S;
  if (!why || one->tries == 1)
    o->says(spec_of(o->list, at)->name, why == NULL, why, o->user);
}

static void take_answers(struct ew_outputs *o) {
  for (struct job *job; (job = g_async_queue_try_pop(o->answers)); job_free(job))
    if (job->round == o->round)
      answered(o, job->at, job->why);
    else if (!job->why) /* done all the same, and said so */
      o->says(spec_of(job->list, job->at)->name, TRUE, NULL, o->user);
}

static void tell_undone(struct ew_outputs *o, const ew_message *why) {
  g_assert(why);
  for (guint i = 0; o->asked && i < o->states->len; i++)
    if (output_of(o, i)->state != DONE)
      o->says(spec_of(o->list, i)->name, FALSE, why, o->user);
}

void ew_outputs_free(struct ew_outputs *o) {
  if (!o)
    return;
  check(o);
  g_thread_pool_free(o->slow, FALSE, TRUE);
  take_answers(o);
  g_autoptr(ew_message) ended = ew_message_plain(&not_done);
  tell_undone(o, ended);
  g_async_queue_unref(o->answers);
  ew_gpio_lines_free(o->gpio);
  g_array_unref(o->states);
  g_array_unref(o->list);
  g_free(o);
}

void ew_outputs_use(struct ew_outputs *o, GArray *list) {
  check(o);
  g_array_ref(list);
  g_array_unref(o->list);
  o->list = list;
  begin(o, o->asked);
  check(o);
}

void ew_outputs_ask(struct ew_outputs *o) {
  check(o);
  begin(o, TRUE);
  check(o);
}

void ew_outputs_withdraw(struct ew_outputs *o) {
  check(o);
  begin(o, FALSE);
  check(o);
}

enum ew_request ew_outputs_state(const struct ew_outputs *o) {
  if (!o->asked)
    return EW_REQUEST_IDLE;
  for (guint i = 0; i < o->states->len; i++)
    if (output_of(o, i)->state != DONE)
      return EW_REQUEST_ASKING;
  return EW_REQUEST_ASKED;
}

static void try_one(struct ew_outputs *o, guint at) {
  const struct ew_output_spec *spec = spec_of(o->list, at);
  struct output *one = output_of(o, at);
  g_assert(one->state == WAITS || one->state == FAILED);
  one->state = TRYING;
  one->tries++;
  if (spec->kind == EW_OUTPUT_SEND) {
    gboolean sent = o->send(spec->line, o->user);
    g_autoptr(ew_message) why = sent ? NULL : ew_message_plain(&nobody_takes);
    answered(o, at, why);
    return;
  }
  struct job *job = g_new0(struct job, 1);
  *job = (struct job){.list = g_array_ref(o->list), .at = at, .round = o->round};
  g_thread_pool_push(o->slow, job, NULL);
}

/* Also when it is tried again: a load that was not taken off in time is not taken off at speed. */
static gboolean condition_met(const struct ew_output_spec *spec, double speed_rpm) {
  return isnan(spec->speed_below_rpm) || speed_rpm < spec->speed_below_rpm;
}

void ew_outputs_step(struct ew_outputs *o, double now_s, double speed_rpm) {
  check(o);
  o->now_s = now_s;
  take_answers(o);
  for (guint i = 0; o->asked && i < o->states->len; i++) {
    const struct output *one = output_of(o, i);
    gboolean due = one->state == WAITS || (one->state == FAILED && now_s >= one->again_s);
    if (due && condition_met(spec_of(o->list, i), speed_rpm))
      try_one(o, i);
    if (output_of(o, i)->state == WAITS)
      break; /* those after it wait for it */
  }
  check(o);
}
