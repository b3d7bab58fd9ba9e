/* Facts of the day, stages of the work, and one proposal with its reason, from the book alone. The order of the
 * rules is the order of the work; a block (a trip nobody looked into, a step-up that says no) goes before any of
 * them. */
#include "desk/standing.h"
#include "desk/alike.h"
#include "base/number.h"
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

struct facts {
  const struct ew_desk *desk;
  gint64 engine_id;
  GArray *rows;
  int heats, pulls, like;
  struct ew_loaded *last; /* the last pull that counts */
  double target_rpm;      /* agreed or lowest limit; NaN */
  gboolean at_limit;
  char *mixture, *spark, *open; /* what was answered; open: a comparison that could not tell */
  char *overdue;
  GPtrArray *trips; /* char*: those that stand open */
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
    char **into = strcmp(v->question, "mixture sweep") == 0 ? &f->mixture
                  : strcmp(v->question, "spark sweep") == 0 ? &f->spark
                  : strcmp(v->question, "compare") == 0     ? &f->open
                                                            : NULL;
    if (!into || v->earlier) /* of facts that were amended since: it is to be asked again */
      continue;
    g_autoptr(ew_message) says = ew_verdict_says(v);
    g_clear_pointer(into, g_free);
    if (into != &f->open || is_open(says))
      *into = ew_message_text(says, EW_UNITS_SI);
  }
}

static gboolean gather(struct facts *f, struct ew_standing *s, GError **error) {
  f->rows = ew_pull_list(f->desk->book, f->engine_id, error);
  if (!f->rows)
    return FALSE;
  g_autoptr(ew_message) overdue = NULL;
  if (!ew_calibration_overdue(f->desk->book, &overdue, error))
    return FALSE;
  f->overdue = overdue ? ew_message_text(overdue, EW_UNITS_SI) : NULL;
  g_autoptr(GPtrArray) open = ew_trips_open(f->desk->book, f->engine_id);
  f->trips = ew_messages_texts(open, EW_UNITS_SI);
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

static void set(struct ew_standing *s, enum stage stage, const char *name,
                enum ew_stage_state state, char *says) {
  s->stages[stage] = (struct ew_stage){name, state, says};
}

static char *limit_text(const struct facts *f) {
  if (!f->last)
    return g_strdup("not begun");
  g_autofree char *now = ew_number_thousands(round(f->last->curve->high_rpm / 50) * 50);
  g_autofree char *target = ew_number_thousands(f->target_rpm);
  return isnan(f->target_rpm) ? g_strdup_printf("%s rpm; no limit is agreed or stated", now)
                              : g_strdup_printf("%s of %s rpm", now, target);
}

static void fill_stages(const struct facts *f, struct ew_standing *s) {
  gboolean stop = f->trips->len || (s->step && s->step->answer == EW_STEP_STOP);
  gboolean held = s->step && s->step->answer == EW_STEP_HOLD && !f->at_limit;
  set(s, HEALTH, "Dyno health", f->overdue ? EW_STAGE_DUE : EW_STAGE_DONE,
      g_strdup(f->overdue ? f->overdue : "calibration is valid"));
  set(s, HEAT, "Warm the engine", f->heats || f->pulls ? EW_STAGE_DONE : EW_STAGE_DUE,
      f->heats ? g_strdup("heat pull run, not judged")
      : f->pulls
          ? g_strdup("warm by its pulls, none of them for heat: the first after a stop reads low")
          : g_strdup("one pull for heat; it is shown and not judged"));
  set(s, LIMIT, "Raise the limit in steps",
      stop || held  ? EW_STAGE_BLOCKED
      : f->at_limit ? EW_STAGE_DONE
      : f->last     ? EW_STAGE_DUE
                    : EW_STAGE_LATER,
      limit_text(f));
  set(s, MIXTURE, "Mixture",
      f->mixture    ? EW_STAGE_DONE
      : f->at_limit ? EW_STAGE_DUE
                    : EW_STAGE_LATER,
      g_strdup(f->mixture ? f->mixture : "made safe on the rich side first"));
  set(s, SPARK, "Spark",
      f->spark                    ? EW_STAGE_DONE
      : f->at_limit && f->mixture ? EW_STAGE_DUE
                                  : EW_STAGE_LATER,
      g_strdup(f->spark ? f->spark : "from the safe side, one step at a time"));
  set(s, RESULT, "Like pulls for the result",
      f->at_limit && f->like >= LIKE_ENOUGH ? EW_STAGE_DONE
      : f->at_limit && f->spark             ? EW_STAGE_DUE
                                            : EW_STAGE_LATER,
      f->like ? g_strdup_printf("%d like pull%s in a row", f->like, f->like == 1 ? "" : "s")
              : g_strdup("three with one set-up, all of them shown"));
}

static void propose(struct ew_standing *s, char *next, char *why) {
  s->next = next;
  s->why = why;
}

static void fill_next(const struct facts *f, struct ew_standing *s) {
  if (f->trips->len) {
    propose(s, g_strdup("Stop and look"),
            g_strconcat("stop and look: ", f->trips->pdata[f->trips->len - 1], NULL));
    return;
  }
  if (!f->last) {
    propose(s, g_strdup(f->heats ? "Run the first pull at a low limit" : "Run one pull for heat"),
            g_strdup("the first pull after a stop reads low; careful spark and a rich mixture "
                     "until the curve is known"));
    return;
  }
  if (s->step->answer == EW_STEP_STOP) {
    propose(s, g_strdup("Stop and look"), ew_message_text(s->step->says, EW_UNITS_SI));
    return;
  }
  if (!f->at_limit) {
    g_autofree char *next = ew_number_thousands(s->step->next_rpm);
    gboolean go = s->step->answer == EW_STEP_NOTHING_FOUND && !isnan(s->step->next_rpm);
    propose(s, go ? g_strdup_printf("One pull to %s rpm", next) : g_strdup("Hold at this limit"),
            ew_message_text(s->step->says, EW_UNITS_SI));
    return;
  }
  if (f->open)
    propose(s, g_strdup("Settle the open question"), g_strdup(f->open));
  else if (!f->mixture)
    propose(s, g_strdup("Trim the mixture: three settings or more"),
            g_strdup("a mixture change moves the best spark, so it comes first"));
  else if (!f->spark)
    propose(s, g_strdup("Find the spark: three settings or more, from the safe side"),
            g_strdup("knock or anything seen on a plug ends it, whatever torque says"));
  else if (f->like < LIKE_ENOUGH)
    propose(s,
            g_strdup_printf("%d more pull%s with nothing changed", LIKE_ENOUGH - f->like,
                            LIKE_ENOUGH - f->like == 1 ? "" : "s"),
            g_strdup("the result is the mean of three like pulls, all of them shown"));
  else
    propose(s, g_strdup("Print the report"),
            g_strdup_printf("%d like pulls stand with the set-up that was chosen", f->like));
}

static void fill_mind(const struct facts *f, struct ew_standing *s) {
  if (f->overdue)
    g_ptr_array_add(s->mind, g_strdup(f->overdue));
  for (guint i = 0; !s->step && i < f->trips->len; i++)
    g_ptr_array_add(s->mind, g_strconcat("stop and look: trip: ", f->trips->pdata[i], NULL));
  for (guint i = 0; s->step && i < s->step->rows->len; i++) {
    const struct ew_step_up_row *row = &g_array_index(s->step->rows, struct ew_step_up_row, i);
    if (row->answer != EW_STEP_NOTHING_FOUND) {
      g_autofree char *found = ew_message_text(row->found, EW_UNITS_SI);
      g_ptr_array_add(s->mind,
                      g_strdup_printf("%s: %s", ew_tr(ew_step_up_words[row->answer]), found));
    }
  }
}

struct ew_standing *ew_desk_standing(const struct ew_desk *desk, gint64 engine_id, GError **error) {
  struct ew_standing *s = g_new0(struct ew_standing, 1);
  struct facts f = {.desk = desk, .engine_id = engine_id};
  s->mind = g_ptr_array_new_with_free_func(g_free);
  gboolean good = gather(&f, s, error);
  if (good) {
    fill_stages(&f, s);
    fill_next(&f, s);
    fill_mind(&f, s);
  }
  ew_loaded_free(f.last);
  g_clear_pointer(&f.rows, g_array_unref);
  g_free(f.mixture);
  g_free(f.spark);
  g_free(f.open);
  g_free(f.overdue);
  g_ptr_array_unref(f.trips);
  if (good)
    return s;
  ew_standing_free(s);
  return NULL;
}

void ew_standing_free(struct ew_standing *s) {
  if (!s)
    return;
  for (int i = 0; i < EW_STAGES; i++)
    g_free(s->stages[i].says);
  g_free(s->day);
  g_free(s->next);
  g_free(s->why);
  g_ptr_array_unref(s->mind);
  ew_step_up_free(s->step);
  g_free(s);
}
