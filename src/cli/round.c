/* round new, visit, show, compare: a reference engine that runs in each cell, and comparisons across cells. */
#include "base/error.h"
#include "base/words.h"
#include "cli/question_call.h"
#include "cli/shop_copy.h"
#include "desk/round.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define BOOK                                                                                       \
  { "book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE }

/* ---- round new ---- */

static gboolean read_pulls(const struct ew_call *call, int *pulls, GError **error) {
  const char *text = ew_call_option(call, "pulls");
  *pulls = 4;
  if (!text)
    return TRUE;
  gboolean good = *text && strlen(text) < 4 && text[strspn(text, "0123456789")] == 0;
  *pulls = good ? atoi(text) : 0;
  return good || ew_refuse(error, "--pulls '%.40s': a whole number, %d to %d", text,
                           EW_BETWEEN_VISIT_LEAST, EW_ROUND_PULLS_MOST);
}

static void say_plan(const struct ew_round *plan, struct ew_spread repeats) {
  GString *way = g_string_new(NULL);
  for (guint i = 0; i <= plan->cells->len; i++)
    g_string_append_printf(way, "%s%s", i ? ", " : "",
                           (const char *)plan->cells->pdata[i % plan->cells->len]);
  ew_say("round %s: %s, %d pulls in each cell, in this order: %s", plan->name, plan->engine,
         plan->pulls, way->str);
  g_string_free(way, TRUE);
  if (repeats.freedom > 0)
    ew_say("one pull repeats to %.2f %% here, so two cells can be told apart from about %.1f %%",
           100 * repeats.sd, 196 * ew_between_design(repeats.sd, plan->pulls));
  else
    ew_say("how well a pull repeats here is not known yet: from what cells can be told apart comes "
           "out with the first visit");
  ew_say("plan the same in each cell's book; after the pulls in a cell: round visit \"%s\" PULL...",
         plan->name);
}

/* The plan as the options say it; its arrays are the caller's. */
static gboolean read_plan(const struct ew_call *call, struct ew_round *plan, GError **error) {
  const char *engine = ew_call_option(call, "engine"), *cells = ew_call_option(call, "cells");
  if (!engine || !cells)
    return ew_refuse(error, "round new needs --engine NAME and --cells \"NAME,NAME\"");
  g_auto(GStrv) parts = g_strsplit(cells, ",", -1);
  for (guint i = 0; parts[i]; i++)
    g_ptr_array_add(plan->cells, g_strstrip(g_strdup(parts[i])));
  plan->engine = g_strdup(engine);
  plan->name = g_strstrip(g_strdup(ew_call_argument(call, 0)));
  return read_pulls(call, &plan->pulls, error);
}

static gboolean run_new(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_desk desk = {0};
  struct ew_round plan = {.cells = g_ptr_array_new_with_free_func(g_free)};
  gboolean added = FALSE;
  gboolean good = book && ew_desk_open(&desk, book, error) && read_plan(call, &plan, error) &&
                  ew_round_begin(&desk, &plan, &added, error);
  if (good && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "round", plan.name);
    ew_json_boolean(&json, "added", added);
    ew_answer_end(&json);
  } else if (good)
    say_plan(&plan, ew_round_repeats(&desk));
  g_free(plan.name);
  g_free(plan.engine);
  g_ptr_array_unref(plan.cells);
  ew_desk_clear(&desk);
  return good;
}

/* ---- round visit ---- */

static gboolean run_visit(const struct ew_call *call, GError **error) {
  g_autoptr(GArray) pulls = g_array_new(FALSE, FALSE, sizeof(gint64));
  const char *name = ew_call_argument(call, 0);
  for (guint i = 1; i < call->arguments->len; i++) {
    const char *text = ew_call_argument(call, i);
    gint64 id = strlen(text) < 12 && *text && text[strspn(text, "0123456789")] == 0
                    ? g_ascii_strtoll(text, NULL, 10)
                    : 0;
    if (id < 1)
      return ew_refuse(error, "'%.40s' is not a pull number", text);
    g_array_append_val(pulls, id);
  }
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_desk desk = {0};
  gboolean good =
      book && ew_desk_open(&desk, book, error) && ew_round_visit(&desk, name, pulls, error);
  if (good && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "round", name);
    ew_json_integer(&json, "pulls", pulls->len);
    ew_answer_end(&json);
  } else if (good)
    ew_say("kept: %u pulls are this cell's visit of the round %s", pulls->len, name);
  ew_desk_clear(&desk);
  return good;
}

/* ---- the books of a round ---- */

struct books {
  GPtrArray *books, *desks; /* struct ew_book*, struct ew_desk*: the call's own first */
};

static void desk_free(gpointer data) {
  ew_desk_clear(data);
  g_free(data);
}

static struct books books_new(void) {
  return (struct books){g_ptr_array_new_with_free_func((GDestroyNotify)ew_book_close),
                        g_ptr_array_new_with_free_func(desk_free)};
}

static void books_free(struct books *b) {
  g_ptr_array_unref(b->desks);
  g_ptr_array_unref(b->books);
}

static gboolean add_book(struct books *b, struct ew_book *book, GError **error) {
  struct ew_desk *desk = g_new0(struct ew_desk, 1);
  if (!book) {
    g_free(desk);
    return FALSE;
  }
  g_ptr_array_add(b->books, book);
  g_ptr_array_add(b->desks, desk);
  return ew_desk_open(desk, book, error);
}

/* --book, then each --with: a file, or a cell of a shop. */
static gboolean open_books(const struct ew_call *call, struct books *b, GError **error) {
  g_autofree const char **with = ew_call_options(call, "with");
  gboolean good = add_book(b, ew_call_book(call, FALSE, TRUE, error), error);
  for (guint i = 0; good && with[i]; i++) {
    g_autofree char *path = ew_shop_copy_of(with[i], error);
    good = path && add_book(b, ew_book_open(path, FALSE, error), error);
  }
  return good;
}

static gboolean gather(const struct books *b, const char *name, struct ew_round_seen *seen,
                       GError **error) {
  return ew_round_gather((struct ew_desk *const *)(void *)b->desks->pdata, b->desks->len, name,
                         seen, error);
}

/* ---- round show ---- */

static void write_cells(const struct ew_round_seen *s, struct ew_json *json) {
  ew_json_open_array(json, "cells");
  for (guint i = 0; i < s->plan->cells->len; i++) {
    ew_json_open(json, NULL);
    ew_json_text(json, "cell", s->plan->cells->pdata[i]);
    ew_json_integer(json, "pulls", (gint64)s->count[i]);
    ew_json_number(json, "off_mean",
                   s->whole ? expm1(s->between.cell[i].mean - s->between.mean) : (double)NAN);
    ew_json_number(json, "relative_sd", s->whole ? s->between.cell[i].sd : (double)NAN);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void write_seen(const struct ew_round_seen *s, struct ew_json *json) {
  const struct ew_between *b = &s->between;
  g_autofree char *next = ew_round_next(s);
  ew_json_text(json, "round", s->plan->name);
  ew_json_text(json, "engine", s->plan->engine);
  ew_json_integer(json, "pulls", s->plan->pulls);
  write_cells(s, json);
  ew_json_integer(json, "back_pulls", (gint64)s->back);
  ew_json_boolean(json, "whole", s->whole);
  ew_json_text(json, "next", next);
  if (!s->whole)
    return;
  ew_json_number(json, "band_low_rpm", s->band_low_rpm);
  ew_json_number(json, "band_high_rpm", s->band_high_rpm);
  ew_json_number(json, "repeatability_sd", b->sd_within);
  ew_json_number(json, "between_cells_sd", b->sd_between);
  ew_json_number(json, "reproducibility_sd", b->sd_all);
  ew_json_number(json, "degrees_of_freedom", b->freedom_within);
  ew_json_number(json, "came_back_by", expm1(b->back));
  ew_json_number(json, "came_back_sd", b->back_sd);
  ew_json_number(json, "cochran", b->cochran);
  ew_json_number(json, "cochran_critical_1", b->cochran_1);
  ew_json_number(json, "cochran_critical_5", b->cochran_5);
  ew_json_number(json, "grubbs", b->grubbs);
  ew_json_number(json, "grubbs_critical_1", b->grubbs_1);
  ew_json_number(json, "grubbs_critical_5", b->grubbs_5);
}

static void say_cells(const struct ew_round_seen *s) {
  for (guint i = 0; i < s->plan->cells->len; i++) {
    const char *cell = s->plan->cells->pdata[i];
    if (s->whole)
      ew_say("  %-20s %2d pulls  %+6.2f %% of the mean, repeats to %.2f %%", cell, (int)s->count[i],
             100 * expm1(s->between.cell[i].mean - s->between.mean), 100 * s->between.cell[i].sd);
    else if (s->count[i])
      ew_say("  %-20s %2d pulls", cell, (int)s->count[i]);
    else
      ew_say("  %-20s not run yet", cell);
  }
  if (s->whole)
    ew_say("  %-20s %2d pulls  %+6.2f %% of its first visit",
           (const char *)s->plan->cells->pdata[0], (int)s->back, 100 * expm1(s->between.back));
}

/* What speaks against a round. */
static void say_doubts(const struct ew_round_seen *s) {
  const struct ew_between *b = &s->between;
  const char *rough = s->plan->cells->pdata[b->cochran_cell],
             *odd = s->plan->cells->pdata[b->grubbs_cell];
  if (b->cochran > b->cochran_1)
    ew_say("caution: %s repeats worse than the others, beyond chance: find out why, and run it "
           "again",
           rough);
  else if (b->cochran > b->cochran_5)
    ew_say("caution: %s repeats worse than the others, about as far as chance allows", rough);
  if (b->grubbs > b->grubbs_1)
    ew_say("caution: %s lies off the others, beyond chance: look at its load cell, arm and weather "
           "before any comparison",
           odd);
  else if (b->grubbs > b->grubbs_5)
    ew_say("caution: %s lies off the others, about as far as chance allows", odd);
  if (fabs(b->back) > 2.8 * b->back_sd)
    ew_say("caution: the engine came back changed by more than its pulls scatter: it is counted "
           "into every comparison; a round with a sound engine makes them sharper");
  if (b->cells == 2)
    ew_say("two cells alone: which of them is off cannot be known; a third would show it");
}

static void say_seen(const struct ew_round_seen *s) {
  g_autofree char *next = ew_round_next(s);
  ew_say("round %s: %s, %d pulls a visit", s->plan->name, s->plan->engine, s->plan->pulls);
  say_cells(s);
  if (next) {
    ew_say("next: run %s in %s, then: round visit \"%s\" PULL...", s->plan->engine, next,
           s->plan->name);
    return;
  }
  const struct ew_between *b = &s->between;
  ew_say("corrected torque, mean of its logarithm over %#.0f to %#.0f rpm; standard deviations "
         "(ISO 5725-2): one pull within a visit %.2f %%, between cells %.2f %%, both %.2f %%",
         s->band_low_rpm, s->band_high_rpm, 100 * b->sd_within, 100 * b->sd_between,
         100 * b->sd_all);
  ew_say("one pull here and one there of the same engine differ by up to %.1f %% (95 %%)",
         280 * b->sd_all);
  say_doubts(s);
}

static gboolean run_show(const struct ew_call *call, GError **error) {
  struct books b = books_new();
  struct ew_round_seen seen = {0};
  gboolean good =
      open_books(call, &b, error) && gather(&b, ew_call_argument(call, 0), &seen, error);
  if (good && call->json) {
    struct ew_json json = ew_answer_begin();
    write_seen(&seen, &json);
    ew_answer_end(&json);
  } else if (good)
    say_seen(&seen);
  ew_round_seen_clear(&seen);
  books_free(&b);
  return good;
}

/* ---- round compare ---- */

static gboolean load_sides(const struct ew_call *call, const struct books *b, struct ew_sides *s,
                           GError **error) {
  if (b->desks->len < 2)
    return ew_refuse(error, "--with: name the other cell's book, a file or an address of the shop "
                            "with # and the cell");
  if (!ew_call_load_list(call, "a", b->desks->pdata[0], s->a, error) ||
      !ew_call_load_list(call, "b", b->desks->pdata[1], s->b, error))
    return FALSE;
  return (s->a->len > 0 && s->b->len > 0) ||
         ew_refuse(error, "give pulls on both sides: --a of --book, --b of the first --with");
}

static gboolean run_compare(const struct ew_call *call, GError **error) {
  struct books b = books_new();
  struct ew_sides s = ew_sides_new();
  struct ew_round_seen seen = {0};
  double margin;
  gboolean good =
      ew_call_quantity(call, "margin", EW_KIND_RATIO, 0.01, &margin, error) &&
      (margin >= 0 && margin <= 0.2
           ? TRUE
           : ew_refuse(error, "--margin: %.1f %% is outside 0 to 20 %%", 100 * margin)) &&
      open_books(call, &b, error) && gather(&b, ew_call_argument(call, 0), &seen, error) &&
      load_sides(call, &b, &s, error);
  struct ew_comparison *c =
      good ? ew_round_compare(b.desks->pdata[0], s.a, b.desks->pdata[1], s.b, &seen, margin, error)
           : NULL;
  if (c)
    ew_call_answer_comparison(call, c);
  good = c != NULL;
  ew_comparison_free(c);
  ew_sides_free(&s);
  ew_round_seen_clear(&seen);
  books_free(&b);
  return good;
}

/* ---- the commands ---- */

static const struct ew_option_spec new_options[] = {
    BOOK,
    {"engine", EW_TEXT("NAME"), EW_TEXT("the reference engine, as its file in each book names it"),
     FALSE},
    {"cells", EW_TEXT("NAMES"),
     EW_TEXT("the cells in the order of the visits, with commas, as their files name them"), FALSE},
    {"pulls", "N", EW_TEXT("pulls a visit, 3 to 20 (4)"), FALSE},
    {NULL, NULL, NULL, FALSE}};
static const struct ew_option_spec visit_options[] = {BOOK, {NULL, NULL, NULL, FALSE}};
#define WITH                                                                                       \
  {                                                                                                \
    "with", EW_TEXT("FILE"),                                                                       \
        EW_TEXT("books of the other cells: files, or addresses of a shop with # and the cell"),    \
        TRUE                                                                                       \
  }
static const struct ew_option_spec show_options[] = {BOOK, WITH, {NULL, NULL, NULL, FALSE}};
static const struct ew_option_spec compare_options[] = {
    BOOK,
    WITH,
    {"a", EW_TEXT("PULL"), EW_TEXT("before: pulls of --book"), TRUE},
    {"b", EW_TEXT("PULL"), EW_TEXT("after: pulls of the first --with"), TRUE},
    {"margin", "Q", EW_TEXT("a smaller difference counts as the same (1 %; 0 %: never)"), FALSE},
    {NULL, NULL, NULL, FALSE}};

const struct ew_command ew_command_round_new = {
    .name = "round new",
    .summary =
        EW_TEXT("Plan a round: one reference engine runs in each cell, and in the first again"),
    .takes = EW_TEXT("NAME"),
    .least = 1,
    .most = 1,
    .options = new_options,
    .run = run_new,
    .examples = "round new winter --engine \"reference four\" --cells \"Cell 1,Cell 2\" --pulls 4",
    .more = EW_TEXT("Only a round tells how far cells differ, and only then are pulls of different "
                    "cells compared ('round compare').\nTake an engine that repeats well and stays "
                    "as it is: run in, the same oil, fuel and plugs, nothing adjusted on the way. "
                    "The\nsame plan is made in each cell's book.")};
const struct ew_command ew_command_round_visit = {
    .name = "round visit",
    .summary = EW_TEXT("These pulls are this cell's visit of a round"),
    .takes = EW_TEXT("NAME PULL..."),
    .least = 2,
    .most = -1,
    .options = visit_options,
    .run = run_visit,
    .examples = "round visit winter 12 13 14 15"};
const struct ew_command ew_command_round_show = {
    .name = "round show",
    .summary = EW_TEXT("How far the cells differ, by a round; or what is still to be run"),
    .takes = EW_TEXT("NAME"),
    .least = 1,
    .most = 1,
    .options = show_options,
    .run = run_show,
    .examples = "round show winter --with cell2.book"};
const struct ew_command ew_command_round_compare = {
    .name = "round compare",
    .summary = EW_TEXT("Pulls of one cell against pulls of another, as far as a round allows"),
    .takes = EW_TEXT("NAME"),
    .least = 1,
    .most = 1,
    .options = compare_options,
    .run = run_compare,
    .examples = "round compare winter --a 31 32 --with cell2.book --b 8 9",
    .more = EW_TEXT("The interval holds what the round showed between the two cells besides what "
                    "pulls scatter. It is not kept in a book,\nand earlier looks are not counted: "
                    "judge a change in one cell wherever you can.")};
