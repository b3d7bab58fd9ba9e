/* Facts of the day, stages of the work, and one proposal with its reason, from the book alone. The order of the
 * rules is the order of the work; a block (a trip nobody looked into, a step-up that says no) goes before any of
 * them. */
#include "desk/standing.h"
#include "desk/alike.h"
#include "base/language.h"
#include "desk/trip.h"
#include <math.h>
#include <string.h>

#define LIKE_ENOUGH 3 /* pulls for a result; common practice, no source */

const char *const ew_stage_words[] = {
#define X(id, word) word,
    EW_STAGE_STATES(X)
#undef X
        NULL};

enum stage { HEAT, LIMIT, MIXTURE, SPARK, RESULT, HEALTH };

EW_MESSAGE(valid, "desk.day-calibration-valid", EW_NOTE, "calibration is valid");
EW_MESSAGE(heat_run, "desk.day-heat-run", EW_NOTE, "heat pull run, not judged");
EW_MESSAGE(heat_by_pulls, "desk.day-warm-by-pulls", EW_NOTE,
           "no heat pull, but other pulls were run: the first after a stop reads low");
EW_MESSAGE(heat_due, "desk.day-heat-due", EW_NOTE, "one pull for heat, shown and not judged");
EW_MESSAGE(not_begun, "desk.day-not-begun", EW_NOTE, "not begun");
EW_MESSAGE(no_target, "desk.day-limit-not-agreed", EW_NOTE,
           "{speed}; no limit is agreed or stated");
EW_MESSAGE(of_target, "desk.day-limit-reached", EW_NOTE, "{speed} of {limit}");
EW_MESSAGE(mixture_first, "desk.day-mixture-first", EW_NOTE, "make it safe on the rich side first");
EW_MESSAGE(spark_safe, "desk.day-spark-from-safe", EW_NOTE,
           "from the safe side, one step at a time");
EW_MESSAGE(three_like, "desk.day-three-like", EW_NOTE, "three with one set-up, all of them shown");
EW_MESSAGE_MANY(like_run, "desk.day-like-run", EW_NOTE, "{count} like pull in a row",
                "{count} like pulls in a row");

EW_MESSAGE(next_look, "desk.day-next-look", EW_DANGER, "Stop and look");
EW_MESSAGE(stop_for, "desk.day-next-look-why", EW_DANGER, "{found}");
EW_MESSAGE(stop_for_trip, "desk.day-trip-open", EW_DANGER,
           "nobody has written down what was found: {trip}");
EW_MESSAGE(next_low, "desk.day-next-low-limit", EW_NOTE, "Run the first pull at a low limit");
EW_MESSAGE(next_heat, "desk.day-next-heat", EW_NOTE, "Run one pull for heat");
EW_MESSAGE(
    first_reads_low, "desk.day-first-reads-low", EW_NOTE,
    "the first pull after a stop reads low; careful spark and a rich mixture until the curve is "
    "known");
EW_MESSAGE(next_to, "desk.day-next-pull-to", EW_NOTE, "One pull to {speed}");
EW_MESSAGE(next_hold, "desk.day-next-hold", EW_NOTE, "Hold at this limit");
EW_MESSAGE(next_settle, "desk.day-next-settle", EW_NOTE, "Settle the open question");
EW_MESSAGE(next_mixture, "desk.day-next-mixture", EW_NOTE,
           "Trim the mixture: three settings or more");
EW_MESSAGE(mixture_moves_spark, "desk.day-mixture-moves-spark", EW_NOTE,
           "a mixture change moves the best spark, so it comes first");
EW_MESSAGE(next_spark, "desk.day-next-spark", EW_NOTE,
           "Find the spark: three settings or more, from the safe side");
EW_MESSAGE(knock_ends_it, "desk.day-knock-ends-it", EW_NOTE,
           "knock, or anything seen on a plug, ends it, whatever torque says");
EW_MESSAGE_MANY(next_like, "desk.day-next-like", EW_NOTE, "{count} more pull with nothing changed",
                "{count} more pulls with nothing changed");
EW_MESSAGE(mean_of_three, "desk.day-mean-of-three", EW_NOTE,
           "the result is the mean of three like pulls, all of them shown");
EW_MESSAGE(next_report, "desk.day-next-report", EW_NOTE, "Print the report");
EW_MESSAGE(like_with_chosen, "desk.day-like-with-chosen", EW_NOTE,
           "{count} like pulls with the set-up that was chosen");

#define RPM(name, rpm) ew_say_quantity(name, EW_KIND_ROTATIONAL_SPEED, rpm, 0)

struct facts {
  const struct ew_desk *desk;
  gint64 engine_id;
  GArray *rows;
  int heats, pulls, like;
  struct ew_loaded *last; /* the last pull that counts */
  double target_rpm;      /* agreed or lowest limit; NaN */
  gboolean at_limit;
  ew_message *mixture, *spark,
      *open; /* what was answered, or NULL; open: a comparison that could not tell */
  ew_message *overdue;
  GPtrArray *trips; /* messages: those nobody looked into */
};

static void count_today(struct facts *f, const char *day) {
  for (guint i = 0; i < f->rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(f->rows, struct ew_pull_row, i);
    if (strcmp(row->day, day) != 0)
      continue;
    f->heats += strcmp(row->purpose, "heat") == 0;
    f->pulls += ew_pull_counts(row);
  }
}

static const struct ew_pull_row *last_sound(const struct facts *f, guint before) {
  for (guint i = before; i-- > 0;) {
    const struct ew_pull_row *row = &g_array_index(f->rows, struct ew_pull_row, i);
    if (ew_pull_counts(row))
      return row;
  }
  return NULL;
}

/* How many of the last pulls in a row are alike. */
static gboolean count_like(struct facts *f, GError **error) {
  g_autoptr(GPtrArray) run = ew_desk_last_like(f->desk, f->engine_id, error);
  f->like = run ? (int)run->len : 0;
  return run != NULL;
}

/* Is the comparison still to be settled? The sentence of an earlier program does not tell. */
static gboolean is_open(const ew_message *says) {
  const struct ew_argument *verdict = ew_message_argument(says, "verdict");
  return verdict && verdict->kind == EW_ARGUMENT_WORD &&
         verdict->word == ew_verdict_word(EW_VERDICT_UNDECIDED);
}

static void read_answers(struct facts *f) {
  g_autoptr(GArray) verdicts = ew_verdict_list(f->desk->book, f->engine_id, NULL);
  for (guint i = 0; i < verdicts->len; i++) {
    const struct ew_verdict_row *v = &g_array_index(verdicts, struct ew_verdict_row, i);
    ew_message **into = strcmp(v->question, "mixture sweep") == 0 ? &f->mixture
                        : strcmp(v->question, "spark sweep") == 0 ? &f->spark
                        : strcmp(v->question, "compare") == 0     ? &f->open
                                                                  : NULL;
    if (!into || v->earlier) /* of facts that were amended since: it is to be asked again */
      continue;
    g_autoptr(ew_message) says = ew_verdict_says(v);
    g_clear_pointer(into, ew_message_free);
    if (into != &f->open || is_open(says))
      *into = g_steal_pointer(&says);
  }
}

static gboolean gather(struct facts *f, struct ew_standing *s, GError **error) {
  f->rows = ew_pull_list(f->desk->book, f->engine_id, error);
  if (!f->rows)
    return FALSE;
  if (!ew_calibration_overdue(f->desk->book, &f->overdue, error))
    return FALSE;
  g_assert(!f->trips);
  f->trips = ew_trips_open(f->desk->book, f->engine_id);
  f->target_rpm = NAN;
  if (f->rows->len) {
    s->day = g_strdup(g_array_index(f->rows, struct ew_pull_row, f->rows->len - 1).day);
    count_today(f, s->day);
  }
  const struct ew_pull_row *row = last_sound(f, f->rows->len);
  if (!row)
    return TRUE;
  f->last = ew_desk_load_id(f->desk, row->id, error);
  s->step = f->last ? ew_ask_step_up(f->desk, f->last, NULL, NAN, FALSE, error) : NULL;
  if (!s->step)
    return FALSE;
  s->last_pull = row->id;
  f->target_rpm = f->last->engine.agreed_limit_rpm;
  if (isnan(f->target_rpm))
    f->target_rpm = s->step->ceiling_rpm;
  f->at_limit = f->last->curve->high_rpm > f->target_rpm - 100;
  read_answers(f);
  return count_like(f, error);
}

/* Takes the message. */
static void set(struct ew_standing *s, enum stage stage, const char *name,
                enum ew_stage_state state, ew_message *says) {
  g_assert(stage < EW_STAGES && !s->stages[stage].says && says);
  s->stages[stage] = (struct ew_stage){name, state, says};
}

static ew_message *copy_or(const ew_message *known, const struct ew_message_kind *otherwise) {
  return known ? ew_message_copy(known) : ew_message_plain(otherwise);
}

static ew_message *limit_says(const struct facts *f) {
  if (!f->last)
    return ew_message_plain(&not_begun);
  double now = round(f->last->curve->high_rpm / 50) * 50;
  return isnan(f->target_rpm)
             ? ew_message(&no_target, RPM("speed", now))
             : ew_message(&of_target, RPM("speed", now), RPM("limit", f->target_rpm));
}

static void fill_stages(const struct facts *f, struct ew_standing *s) {
  gboolean stop = f->trips->len || (s->step && s->step->answer == EW_STEP_STOP);
  gboolean held = s->step && s->step->answer == EW_STEP_HOLD && !f->at_limit;
  set(s, HEALTH, EW_TEXT("Dyno health"), f->overdue ? EW_STAGE_DUE : EW_STAGE_DONE,
      copy_or(f->overdue, &valid));
  set(s, HEAT, EW_TEXT("Warm the engine"), f->heats || f->pulls ? EW_STAGE_DONE : EW_STAGE_DUE,
      ew_message_plain(f->heats   ? &heat_run
                       : f->pulls ? &heat_by_pulls
                                  : &heat_due));
  set(s, LIMIT, EW_TEXT("Raise the limit in steps"),
      stop || held  ? EW_STAGE_BLOCKED
      : f->at_limit ? EW_STAGE_DONE
      : f->last     ? EW_STAGE_DUE
                    : EW_STAGE_LATER,
      limit_says(f));
  set(s, MIXTURE, EW_TEXT("Mixture"),
      f->mixture    ? EW_STAGE_DONE
      : f->at_limit ? EW_STAGE_DUE
                    : EW_STAGE_LATER,
      copy_or(f->mixture, &mixture_first));
  set(s, SPARK, EW_TEXT("Spark"),
      f->spark                    ? EW_STAGE_DONE
      : f->at_limit && f->mixture ? EW_STAGE_DUE
                                  : EW_STAGE_LATER,
      copy_or(f->spark, &spark_safe));
  set(s, RESULT, EW_TEXT("Like pulls for the result"),
      f->at_limit && f->like >= LIKE_ENOUGH ? EW_STAGE_DONE
      : f->at_limit && f->spark             ? EW_STAGE_DUE
                                            : EW_STAGE_LATER,
      f->like ? ew_message(&like_run, ew_say_count("count", f->like))
              : ew_message_plain(&three_like));
}

/* Takes both messages. */
static void propose(struct ew_standing *s, ew_message *next, ew_message *why) {
  g_assert(!s->next && !s->why && next && why);
  s->next = next;
  s->why = why;
}

/* Without the words that the proposal says itself. */
static ew_message *reason_of(const ew_message *says) {
  const struct ew_argument *reason = ew_message_argument(says, "reason");
  return ew_message_copy(reason && reason->kind == EW_ARGUMENT_MESSAGE ? reason->message : says);
}

/* While the limit is still to be raised. */
static void propose_limit(struct ew_standing *s) {
  const struct ew_step_up *step = s->step;
  g_assert(step && step->says);
  gboolean go = step->answer == EW_STEP_NOTHING_FOUND && !isnan(step->next_rpm);
  if (step->answer == EW_STEP_STOP)
    propose(s, ew_message_plain(&next_look), reason_of(step->says));
  else
    propose(s,
            go ? ew_message(&next_to, RPM("speed", step->next_rpm)) : ew_message_plain(&next_hold),
            ew_message_copy(step->says));
}

/* At the limit: mixture, spark, like pulls, report. */
static void propose_at_limit(const struct facts *f, struct ew_standing *s) {
  g_assert(f->last && f->at_limit);
  int missing = LIKE_ENOUGH - f->like;
  if (f->open)
    propose(s, ew_message_plain(&next_settle), ew_message_copy(f->open));
  else if (!f->mixture)
    propose(s, ew_message_plain(&next_mixture), ew_message_plain(&mixture_moves_spark));
  else if (!f->spark)
    propose(s, ew_message_plain(&next_spark), ew_message_plain(&knock_ends_it));
  else if (missing > 0)
    propose(s, ew_message(&next_like, ew_say_count("count", missing)),
            ew_message_plain(&mean_of_three));
  else
    propose(s, ew_message_plain(&next_report),
            ew_message(&like_with_chosen, ew_say_count("count", f->like)));
}

static void fill_next(const struct facts *f, struct ew_standing *s) {
  if (f->trips->len)
    propose(s, ew_message_plain(&next_look),
            ew_message(&stop_for, ew_say_message("found", f->trips->pdata[f->trips->len - 1])));
  else if (!f->last)
    propose(s, ew_message_plain(f->heats ? &next_low : &next_heat),
            ew_message_plain(&first_reads_low));
  else if (s->step->answer == EW_STEP_STOP || !f->at_limit)
    propose_limit(s);
  else
    propose_at_limit(f, s);
}

static void fill_mind(const struct facts *f, struct ew_standing *s) {
  if (f->overdue)
    ew_messages_add(s->mind, ew_message_copy(f->overdue));
  for (guint i = 0; !s->step && i < f->trips->len; i++)
    ew_messages_add(s->mind,
                    ew_message(&stop_for_trip, ew_say_message("trip", f->trips->pdata[i])));
  for (guint i = 0; s->step && i < s->step->rows->len; i++) {
    const struct ew_step_up_row *row = &g_array_index(s->step->rows, struct ew_step_up_row, i);
    if (row->answer != EW_STEP_NOTHING_FOUND)
      ew_messages_add(s->mind, ew_step_up_row_says(row));
  }
}

struct ew_standing *ew_desk_standing(const struct ew_desk *desk, gint64 engine_id, GError **error) {
  struct ew_standing *s = g_new0(struct ew_standing, 1);
  struct facts f = {.desk = desk, .engine_id = engine_id};
  s->mind = ew_messages_new();
  gboolean good = gather(&f, s, error);
  if (good) {
    fill_stages(&f, s);
    fill_next(&f, s);
    g_assert(s->next && s->why);
    fill_mind(&f, s);
  }
  ew_loaded_free(f.last);
  g_clear_pointer(&f.rows, g_array_unref);
  ew_message_free(f.mixture);
  ew_message_free(f.spark);
  ew_message_free(f.open);
  ew_message_free(f.overdue);
  g_clear_pointer(&f.trips, g_ptr_array_unref);
  if (good)
    return s;
  ew_standing_free(s);
  return NULL;
}

void ew_standing_free(struct ew_standing *s) {
  if (!s)
    return;
  for (int i = 0; i < EW_STAGES; i++)
    ew_message_free(s->stages[i].says);
  g_free(s->day);
  ew_message_free(s->next);
  ew_message_free(s->why);
  g_ptr_array_unref(s->mind);
  ew_step_up_free(s->step);
  g_free(s);
}
