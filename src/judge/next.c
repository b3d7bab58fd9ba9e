/* Asked in the order of what can hurt: unsafe, not comparable, a pull that fits nothing, a gain that nobody came back from, and only then
 * how many pulls more. What they cost is the comparison's own count, at what a pull took; the chance is that at which it counts. */
#include "judge/next.h"
#include "judge/day_opinion.h"
#include <math.h>
#include <string.h>

#define CHANCE         0.8 /* of ew_pulls_needed */
#define MINUTES_A_PULL 3.5 /* common practice, no source */

EW_MESSAGE(next_look, "judge.next-look", EW_DANGER, "no more pulls of B: {danger}");
EW_MESSAGE(next_mend, "judge.next-mend", EW_CAUTION,
           "these pulls cannot be compared, and more like them cannot either: {reason}");
EW_MESSAGE(next_repeat, "judge.next-repeat", EW_CAUTION,
           "run {side} again first: pull {pull} fits none of the others");
EW_MESSAGE(next_return, "judge.next-return", EW_NOTE,
           "run A again: B looks better, but A has not run since the first B");
EW_MESSAGE_MANY(next_run, "judge.next-run", EW_NOTE,
                "run {order}: {pulls} more pull settles {chance} of such questions",
                "run {order}: {pulls} more pulls settle {chance} of such questions");
EW_MESSAGE(next_learn, "judge.next-learn", EW_NOTE,
           "run {order}: first to learn how this cell repeats; nothing can be settled before");
EW_MESSAGE(next_leave, "judge.next-leave", EW_NOTE,
           "leave it: more than 30 pulls would be needed; the smallest difference that can be "
           "settled is about "
           "{smallest}");
EW_MESSAGE(next_leave_open, "judge.next-leave-open", EW_NOTE,
           "leave it: no number of pulls can be named that would settle it");
EW_MESSAGE(next_none, "judge.next-none", EW_NOTE, "nothing: it is settled ({verdict})");
EW_MESSAGE(next_warm, "judge.next-warm", EW_NOTE,
           "after a rest or a stop one pull first that is not counted, then A before B: the level "
           "may have moved");
EW_MESSAGE(next_known, "judge.next-known", EW_NOTE,
           "B first: A is known today and the engine has not rested since");
EW_MESSAGE(next_two, "judge.next-two-a-run", EW_NOTE,
           "two pulls a run where the engine is stopped for each change: a third adds little, the "
           "stop is shared");
EW_MESSAGE(next_cost, "judge.next-cost", EW_NOTE, "about {minutes} min");
EW_MESSAGE(next_litres, "judge.next-litres", EW_NOTE, "about {litres} l of fuel");
EW_MESSAGE(next_high, "judge.next-high", EW_NOTE, "{time} near the limit");

#define X(id, key) key,
const char *const ew_next_keys[EW_NEXTS_COUNT] = {EW_NEXTS(X)};
#undef X

void ew_next_free(struct ew_next *next) {
  if (!next)
    return;
  g_free(next->order);
  ew_message_free(next->says);
  g_ptr_array_unref(next->why);
  g_free(next);
}

/* Has A run after the first B? */
static gboolean came_back(const struct ew_comparison *c) {
  gboolean b = FALSE, back = FALSE;
  for (gsize i = 0; i < c->weights; i++) {
    back |= b && c->weight[i].side == 0;
    b |= c->weight[i].side == 1;
  }
  return back;
}

void ew_next_say_cost(double minutes, double litres, double seconds_high, GPtrArray *why) {
  if (minutes > 0)
    ew_messages_add(why, ew_message(&next_cost, ew_say_figure("minutes", minutes, 0)));
  if (litres > 0)
    ew_messages_add(why, ew_message(&next_litres, ew_say_figure("litres", litres, 1)));
  if (seconds_high > 0)
    ew_messages_add(why,
                    ew_message(&next_high, ew_say_quantity("time", EW_KIND_TIME, seconds_high, 0)));
}

static void cost(struct ew_next *next, const struct ew_comparison *c, int pulls) {
  double share = c->pulls_needed > 0 ? (double)pulls / c->pulls_needed : (double)NAN;
  next->pulls = pulls;
  next->minutes = isnan(share) ? pulls * MINUTES_A_PULL : share * c->cost_minutes;
  next->litres = share * c->cost_litres;
  next->seconds_high = share * c->cost_seconds_high;
  ew_next_say_cost(next->minutes, next->litres, next->seconds_high, next->why);
}

/* A B A B, two a run where it is stopped for each change. */
static char *from_a(int pulls, gboolean stops) {
  GString *order = g_string_new(NULL);
  for (int i = 0; i < MIN(pulls, 8); i++)
    g_string_append_printf(order, "%s%c", i ? " " : "", "AB"[(stops ? i / 2 : i) % 2]);
  if (pulls > 8)
    g_string_append(order, " ...");
  return g_string_free(order, FALSE);
}

static void run(struct ew_next *next, const struct ew_comparison *c, gboolean rested) {
  gboolean stops = c->level > EW_LEVEL_CONSECUTIVE;
  next->what = EW_NEXT_RUN;
  next->order = rested ? from_a(c->pulls_needed, stops) : g_strdup(c->next_order);
  if (c->freedom > 0) {
    next->chance = CHANCE;
    next->says =
        ew_message(&next_run, ew_say_text("order", next->order),
                   ew_say_count("pulls", c->pulls_needed), ew_say_share("chance", CHANCE, 0));
  } else
    next->says = ew_message(&next_learn, ew_say_text("order", next->order));
  if (rested)
    ew_messages_add(next->why, ew_message_plain(&next_warm));
  else if (!stops && next->order[0] == 'B')
    ew_messages_add(next->why, ew_message_plain(&next_known));
  if (stops)
    ew_messages_add(next->why, ew_message_plain(&next_two));
  cost(next, c, c->pulls_needed);
}

static void again(struct ew_next *next, const struct ew_comparison *c, int side, gint64 pull,
                  gboolean rested) {
  const char *name = side ? "B" : "A";
  next->what = EW_NEXT_REPEAT;
  next->repeats = pull;
  next->order = g_strdup(side && rested ? "A B" : name);
  next->says = ew_message(&next_repeat, ew_say_text("side", name), ew_say_count("pull", pull));
  if (rested)
    ew_messages_add(next->why, ew_message_plain(&next_warm));
  cost(next, c, side && rested ? 2 : 1);
}

static void leave(struct ew_next *next, const struct ew_comparison *c) {
  next->what = EW_NEXT_LEAVE;
  next->says = isfinite(c->smallest_margin)
                   ? ew_message(&next_leave, ew_say_share("smallest", c->smallest_margin, 1))
                   : ew_message_plain(&next_leave_open);
}

static void go_back(struct ew_next *next, const struct ew_comparison *c, gboolean rested) {
  next->what = EW_NEXT_RETURN;
  next->order = g_strdup("A");
  next->says = ew_message_plain(&next_return);
  if (rested)
    ew_messages_add(next->why, ew_message_plain(&next_warm));
  cost(next, c, 1);
}

static void check_next(const struct ew_next *next) {
  gboolean runs =
      next->what == EW_NEXT_REPEAT || next->what == EW_NEXT_RETURN || next->what == EW_NEXT_RUN;
  g_assert(next->says && runs == (next->order != NULL) && runs == (next->pulls > 0));
}

struct ew_next *ew_next(const struct ew_comparison *c, gboolean rested) {
  struct ew_next *next = g_new0(struct ew_next, 1);
  next->why = ew_messages_new();
  next->minutes = next->litres = next->seconds_high = next->chance = NAN;
  if (c->unsafe) {
    next->what = EW_NEXT_LOOK;
    next->says = ew_message(&next_look, ew_say_message("danger", c->danger));
  } else if (c->verdict == EW_VERDICT_NOT_COMPARABLE) {
    next->what = EW_NEXT_MEND;
    next->says = ew_message(&next_mend, ew_say_message("reason", c->invalid));
  } else if (c->day && c->day->misfit_side >= 0)
    again(next, c, c->day->misfit_side, c->day->misfit_pull, rested);
  else if (c->verdict == EW_VERDICT_GAIN && !came_back(c))
    go_back(next, c, rested);
  else if (c->verdict != EW_VERDICT_UNDECIDED) {
    next->what = EW_NEXT_NONE;
    next->says = ew_message(&next_none, ew_say_word("verdict", ew_verdict_word(c->verdict)));
  } else if (c->pulls_needed > 0)
    run(next, c, rested);
  else
    leave(next, c);
  check_next(next);
  return next;
}

void ew_next_write_json(const struct ew_next *next, struct ew_json *json) {
  ew_json_text(json, "what", ew_next_keys[next->what]);
  ew_message_write_member(next->says, "says", EW_UNITS_SI, json);
  ew_json_text(json, "order", next->order);
  if (next->repeats)
    ew_json_integer(json, "repeats_pull", next->repeats);
  else
    ew_json_text(json, "repeats_pull", NULL);
  ew_json_integer(json, "pulls", next->pulls);
  ew_json_number(json, "cost_s", 60 * next->minutes);
  ew_json_number(json, "litres", next->litres);
  ew_json_number(json, "near_limit_s", next->seconds_high);
  ew_json_number(json, "chance", next->chance);
  ew_messages_write_json(next->why, "why", EW_UNITS_SI, json);
}
