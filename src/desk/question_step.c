/* May the limit go up? What stopped the engine at a higher limit, and the trends since the limit below, come from the book. */
#include "desk/question_parts.h"
#include "base/as_pointer.h"
#include "desk/trip.h"
#include <math.h>

#define SAME_LIMITS_MOST 8

EW_MESSAGE(stopped_before, "desk.stopped-before", EW_DANGER,
           "{pull} to {speed} stopped for: {reason}; no sound pull to that limit since");

/* Valid pulls at the limit of this one. */
static int count_here(const struct ew_desk *desk, const struct ew_loaded *pull) {
  g_autoptr(GArray) rows = ew_pull_list(desk->book, pull->row.engine_id, NULL);
  int count = 0;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    count += ew_pull_counts(row) && row->id <= pull->id &&
             ew_is_same_limit(row->top_rpm, pull->curve->high_rpm);
  }
  return count;
}

/* The trends of another pull say something of this one when both are of one engine, build and oil. */
static gboolean trend_is_alike(const struct ew_loaded *pull, const struct ew_loaded *before,
                               GError **error) {
  g_autoptr(GPtrArray) both = g_ptr_array_new();
  g_ptr_array_add(both, (gpointer)before);
  g_ptr_array_add(both, ew_as_pointer(pull));
  return !before || ew_desk_all_alike(both, EW_ALIKE_STEP, 0, NULL, NULL, NULL, error);
}

/* What the last pull at each higher limit before this one stopped for: going down does not make it undone, a later pull at that limit
 * does. Each of them is asked by itself: O(pulls) rows, one curve a limit. */
static GPtrArray *stopped_higher(const struct ew_desk *desk, const struct ew_loaded *pull) {
  GPtrArray *says = ew_messages_new();
  g_autoptr(GArray) rows = ew_pull_list(desk->book, pull->row.engine_id, NULL);
  double seen[SAME_LIMITS_MOST];
  int limits = 0;
  for (guint i = rows->len; i-- > 0 && limits < SAME_LIMITS_MOST;) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    gboolean known = FALSE;
    for (int k = 0; k < limits; k++)
      known |= ew_is_same_limit(seen[k], row->top_rpm);
    if (known || row->id >= pull->id || !ew_pull_counts(row) ||
        !ew_is_lower_limit(pull->curve->high_rpm, row->top_rpm) ||
        row->invented != pull->row.invented)
      continue;
    g_assert(limits < SAME_LIMITS_MOST);
    seen[limits++] = row->top_rpm;
    struct ew_loaded *other = ew_desk_load_id(desk, row->id, NULL);
    struct ew_step_up *step =
        other ? ew_step_up(&(struct ew_step_up_input){.curve = other->curve,
                                                      .engine = &other->engine,
                                                      .bench = &desk->bench,
                                                      .setup = &other->setup,
                                                      .valid_pulls_here = 1,
                                                      .lambda_target = other->setup.lambda_target,
                                                      .next_rpm = NAN})
              : NULL;
    if (step && step->answer == EW_STEP_STOP)
      ew_messages_add(
          says,
          ew_message(
              &stopped_before, EW_SAY_PULL("pull", other),
              ew_say_quantity("speed", EW_KIND_ROTATIONAL_SPEED, row->top_rpm, 0),
              ew_say_message("reason", g_array_index(step->rows, struct ew_step_up_row, 0).found)));
    ew_step_up_free(step);
    ew_loaded_free(other);
  }
  return says;
}

static void write_step_up(const void *answer, struct ew_json *json) {
  ew_step_up_write_json(answer, json);
}

struct ew_step_up *ew_ask_step_up(const struct ew_desk *desk, const struct ew_loaded *pull,
                                  const struct ew_loaded *before, double next_rpm, gboolean keep,
                                  GError **error) {
  struct ew_loaded *found = NULL;
  int here = 1;
  if (!trend_is_alike(pull, before, error))
    return NULL;
  if (desk->book && pull->id) {
    here = count_here(desk, pull);
    if (!before)
      before = found = ew_desk_step_below(desk, pull);
  }
  struct ew_step_up_input input = {.curve = pull->curve,
                                   .before = before ? before->curve : NULL,
                                   .engine = &pull->engine,
                                   .bench = &desk->bench,
                                   .setup = &pull->setup,
                                   .valid_pulls_here = here,
                                   .lambda_target = pull->setup.lambda_target,
                                   .next_rpm = next_rpm,
                                   .discarded = pull->row.discarded};
  gboolean book = desk->book && pull->id;
  g_autoptr(GPtrArray) open = book ? ew_trips_open(desk->book, pull->row.engine_id) : NULL;
  g_autoptr(ew_message) tripped =
      book && pull->row.tripped ? ew_trips_of_pull(desk->book, pull->id) : NULL;
  g_autoptr(GPtrArray) higher = book ? stopped_higher(desk, pull) : NULL;
  input.open_trips = open;
  input.higher = higher;
  input.tripped = tripped;
  struct ew_step_up *step = ew_step_up(&input);
  g_assert(step && step->says);
  g_autofree char *before_reading = before && before->id
                                        ? g_strdup_printf("%" G_GINT64_FORMAT ".%" G_GINT64_FORMAT,
                                                          before->id, before->row.reading)
                                        : NULL;
  ew_loaded_free(found);
  if (!keep || !desk->book || !pull->id || pull->differs)
    return step;
  g_autoptr(GPtrArray) alone = g_ptr_array_new();
  g_ptr_array_add(alone, ew_as_pointer(pull));
  if (ew_question_keep(desk,
                       &(struct ew_question_answer){.question = "step-up",
                                                    .pair = "step-up",
                                                    .a = alone,
                                                    .learned = before_reading,
                                                    .said = ew_question_nothing_said(),
                                                    .says = step->says,
                                                    .write = write_step_up,
                                                    .answer = step},
                       error))
    return step;
  ew_step_up_free(step);
  return NULL;
}
