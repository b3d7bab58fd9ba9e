/* engine search: which combination answers a question best. */
#include "base/number.h"
#include "base/words.h"
#include "cli/predict_asked.h"
#include "cli/search_lease.h"
#include "cli/search_share.h"
#include "desk/search.h"
#include "desk/variation_file.h"
#include "desk/vary.h"
#include <math.h>
#include <signal.h>
#include <string.h>

#define SHARED_MOST                                                                                \
  200000.0 /* first designs that are shared out: nothing is learned from them, but each worker lists them all */

#define SHOWN 12 /* of a long front */

static gint cancelled;
static void on_interrupt(int signal_number) {
  (void)signal_number;
  cancelled = 1;
}

static const struct ew_option_spec search_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book, when the engine is named"), FALSE},
    {"first", "N", EW_TEXT("designs that fill the space, before the first round (60)"), FALSE},
    {"rounds", "N", EW_TEXT("rounds of designs chosen by what was learned (4)"), FALSE},
    {"batch", "N", EW_TEXT("designs a round (20)"), FALSE},
    {"seed", "N", EW_TEXT("another seed begins with other designs (1)"), FALSE},
    {"keep", EW_TEXT("FILE"), EW_TEXT("keep each run, and continue from there next time"), FALSE},
    {"shard", "I/N",
     EW_TEXT(
         "run one share of the first designs into --keep and stop: 1/4 to 4/4 for four workers; "
         "'launcher': as Slurm or mpirun numbers them"),
     FALSE},
    {"lease", EW_TEXT("ADDRESS"),
     EW_TEXT("run the first designs with all who reach this PostgreSQL database, each task by one; "
             "with --keep"),
     FALSE},
    {"task", "N", EW_TEXT("with --lease: designs handed out at a time (8)"), FALSE},
    {"lease-time", EW_TEXT("TIME"),
     EW_TEXT("with --lease: a worker that is silent for so long has lost its task (30 s)"), FALSE},
    {"again", NULL, EW_TEXT("with --lease: open the tasks that were set aside"), FALSE},
    {"gather", EW_TEXT("FILE"),
     EW_TEXT("with --lease: when all is done, write all runs into this file"), FALSE},
    {"write", EW_TEXT("FILE"),
     EW_TEXT("write one of the front as an engine's file, its changes in place"), FALSE},
    {"member", "N", EW_TEXT("which of the front to write, by its number in the list (1)"), FALSE},
    {"all", NULL, EW_TEXT("show each of a long list, not twelve of it"), FALSE},
    {"lambda", "N", EW_TEXT("mixture (default: the file's)"), FALSE},
    {"pressure", "Q", EW_TEXT("air pressure (1 bar)"), FALSE},
    {"temperature", "Q", EW_TEXT("air temperature (25 degC)"), FALSE},
    {"cell", "Q",
     EW_TEXT(
         "cell length of the pipes while searching (40 mm); the front is run again on half of it"),
     FALSE},
    {"tune", EW_TEXT("FILE"),
     EW_TEXT("knobs from 'engine fit', or 'kept': the fit that the book keeps with the engine"),
     FALSE},
    {"threads", "N", EW_TEXT("threads (all)"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static const struct ew_search_wish *wish_at(const struct ew_search_setup *s, int k) {
  return &g_array_index(s->question->wishes, struct ew_search_wish, k);
}

/* "torque 3,000 to 6,500 rpm [N·m]" */
static char *heading(const struct ew_search_wish *w, enum ew_unit_system units) {
  const struct ew_search_figure_about *about = &ew_search_figures[w->what];
  const char *unit = ew_kind_shown(about->kind, units);
  gboolean band = !isnan(w->from_rpm) && !isnan(w->to_rpm);
  g_autofree char *over = band ? ew_words("%s %#.0f to %#.0f", about->key, w->from_rpm, w->to_rpm)
                               : g_strdup(about->key);
  GString *text = g_string_new(over);
  if (*unit)
    g_string_append_printf(text, " [%s]", unit);
  return g_string_free(text, FALSE);
}

static char *cell_of(const struct ew_search_wish *w, double figure, enum ew_unit_system units) {
  char buffer[EW_NUMBER_SIZE];
  double f = ew_shown(ew_search_figures[w->what].kind, units, figure);
  return g_strdup(isfinite(f) ? ew_number_shown(f, fabs(f) < 10 ? 2 : 1, buffer) : "-");
}

static void say_row(const struct ew_search_setup *s, const char *name, const double *figures,
                    const int *wide, int wishes, const char *more, enum ew_unit_system units) {
  GString *row = g_string_new(NULL);
  g_string_append_printf(row, "%-10s", name);
  for (int k = 0; k < wishes; k++) {
    g_autofree char *cell = cell_of(wish_at(s, k), figures[k], units);
    g_string_append_printf(row, "%*s%s", 2 + wide[k] - (int)g_utf8_strlen(cell, -1), "", cell);
  }
  ew_say("%s  %s", row->str, more);
  g_string_free(row, TRUE);
}

static char *changes_of(const struct ew_search_setup *s, const double *point) {
  GString *text = g_string_new(NULL);
  for (guint j = 0; j < s->question->axes->len; j++) {
    g_autofree char *one = ew_search_axis_says(g_ptr_array_index(s->question->axes, j), point[j]);
    g_string_append_printf(text, "%s%s", j ? ", " : "", one);
  }
  return g_string_free(text, FALSE);
}

/* Neighbours of a long front differ by less than anybody can build: some, evenly over the list, are enough to choose between. */
static gboolean is_shown(guint member, guint members, gboolean all) {
  guint k = members > SHOWN ? (member * (SHOWN - 1) + members - 2) / (members - 1) : 0;
  return all || members <= SHOWN || member == k * (members - 1) / (SHOWN - 1);
}

static void say_front(const struct ew_search_setup *s, const struct ew_search_answer *a,
                      gboolean all, enum ew_unit_system units) {
  int wide[EW_FIGURES_MOST];
  GString *head = g_string_new(NULL);
  g_string_append_printf(head, "%-10s", "");
  for (int k = 0; k < a->wishes; k++) {
    g_autofree char *text = heading(wish_at(s, k), units);
    wide[k] = MAX((int)g_utf8_strlen(text, -1), 7);
    g_string_append_printf(head, "%*s%s", 2 + wide[k] - (int)g_utf8_strlen(text, -1), "", text);
  }
  ew_say("%s", head->str);
  g_string_free(head, TRUE);
  say_row(s, ew_tr("as it is"), a->base, wide, a->wishes,
          a->base_settled ? "" : ew_tr("did not settle"), units);
  for (guint i = 0; i < a->members->len; i++) {
    if (!is_shown(i, a->members->len, all))
      continue;
    const struct ew_search_member *m = &g_array_index(a->members, struct ew_search_member, i);
    g_autofree char *changes = changes_of(s, a->found.point + m->design * a->ask.axes);
    g_autofree char *number = g_strdup_printf("%u", i + 1);
    GString *more = g_string_new(changes);
    for (int k = 0; k < m->helds; k++) {
      g_autofree char *bound =
          ew_words(k ? ", %s" : "; held by %s", ew_search_figures[m->held[k]->what].key);
      g_string_append(more, bound);
    }
    if (!m->settled)
      g_string_append(more, ew_tr("; did not settle on fine cells"));
    say_row(s, number, m->figures, wide, a->wishes, more->str, units);
    g_string_free(more, TRUE);
  }
}

/* Is the engine as it is, within all limits, at least as good in everything wanted, and better in something? */
static gboolean base_beats(const struct ew_search_answer *a, const struct ew_search_member *m) {
  gboolean better = FALSE;
  for (int k = 0; k < a->ask.limits; k++) {
    double y = a->base[a->ask.limit[k].figure];
    if (!(y >= a->ask.limit[k].low && y <= a->ask.limit[k].high))
      return FALSE;
  }
  for (int g = 0; g < a->ask.goals; g++) {
    const struct ew_goal *goal = &a->ask.goal[g];
    double sign = goal->more ? 1 : -1, own = sign * a->base[goal->figure],
           his = sign * m->figures[goal->figure];
    if (!(own >= his))
      return FALSE;
    better |= own > his;
  }
  return better;
}

static void say_base(const struct ew_search_answer *a) {
  int beaten = 0;
  for (guint i = 0; a->base_settled && i < a->members->len; i++)
    beaten += base_beats(a, &g_array_index(a->members, struct ew_search_member, i));
  if (beaten == (int)a->members->len)
    ew_say(
        "The engine as it is is better than each of them in all that is wanted: what it has lies "
        "outside the ranges, or more designs are needed.");
  else if (beaten > 0)
    ew_say("The engine as it is is better than %d of them in all that is wanted.", beaten);
}

static int by_share(gconstpointer a, gconstpointer b, gpointer influence) {
  const struct ew_influence *all = influence;
  double x = all[*(const int *)a].all, y = all[*(const int *)b].all;
  return (x < y) - (x > y);
}

static void say_influence(const struct ew_search_setup *s, const struct ew_search_answer *a) {
  ew_say("%s", "");
  ew_say("What makes the difference, over all that may be turned:");
  for (int k = 0; k < a->wishes; k++) {
    struct ew_influence influence[EW_AXES_MOST];
    int order[EW_AXES_MOST];
    if (!ew_search_influence(&a->ask, &a->found, k, influence))
      continue;
    for (int j = 0; j < a->ask.axes; j++)
      order[j] = j;
    g_qsort_with_data(order, a->ask.axes, sizeof *order, by_share, influence);
    GString *text = g_string_new(NULL);
    for (int i = 0; i < a->ask.axes && influence[order[i]].all >= 0.02; i++) {
      const struct ew_search_axis *axis = g_ptr_array_index(s->question->axes, order[i]);
      g_autofree char *share = ew_words("%s %.0f %%", axis->name, 100 * influence[order[i]].all);
      g_string_append_printf(text, "%s%s", i ? ", " : "", share);
    }
    ew_say("  %s: %s", ew_search_figures[wish_at(s, k)->what].key, text->str);
    g_string_free(text, TRUE);
  }
}

static void say_answer(const struct ew_search_setup *s, const struct ew_search_answer *a,
                       gboolean all, enum ew_unit_system units) {
  ew_say("%d designs run, %d of them did not settle; %d combinations were barred by limits that "
         "need no run.",
         a->found.designs, a->found.unsound, a->found.barred);
  for (guint i = 0; i < a->reasons->len; i++) {
    const struct ew_search_reason *r = &g_array_index(a->reasons, struct ew_search_reason, i);
    ew_say("  %d: %s", r->count, r->says);
  }
  if (a->members->len == 1)
    ew_say("1 is left that none is better than in everything, run again on fine cells:");
  else
    ew_say(
        "%u are left of which none is better in everything than another, run again on fine cells:",
        a->members->len);
  ew_say("%s", "");
  say_front(s, a, all, units);
  ew_say("%s", "");
  if (a->members->len > SHOWN && !all)
    ew_say("%d of them, evenly over the list, are shown; --all shows each. --member takes these "
           "numbers.",
           SHOWN);
  say_base(a);
  if (!isnan(a->difference_share))
    ew_say("Two of them whose torque differs by less than %.1f %% cannot be told apart (95 %%, by "
           "what cells "
           "leave; what the model itself has wrong comes on top).",
           100 * 1.96 * a->difference_share);
  say_influence(s, a);
  if (a->keeping)
    ew_say("Kept before and taken: %" G_GINT64_FORMAT " runs.", a->kept.taken);
  ew_say("Predicted, not measured. Check the engine's clearances, and prove spark and mixture from "
         "the safe side.");
}

static gboolean read_counts(const struct ew_call *call, struct ew_search_setup *s, GError **error) {
  double first, rounds, batch, seed, threads, cell;
  if (!ew_call_quantity(call, "first", EW_KIND_COUNT, s->first, &first, error) ||
      !ew_call_quantity(call, "rounds", EW_KIND_COUNT, s->rounds, &rounds, error) ||
      !ew_call_quantity(call, "batch", EW_KIND_COUNT, s->batch, &batch, error) ||
      !ew_call_quantity(call, "seed", EW_KIND_COUNT, 1, &seed, error) ||
      !ew_call_quantity(call, "threads", EW_KIND_COUNT, 0, &threads, error) ||
      !ew_call_quantity(call, "cell", EW_KIND_LENGTH, 0.04, &cell, error))
    return FALSE;
  double most = ew_call_has(call, "shard") || ew_call_has(call, "lease") ? SHARED_MOST : 2000;
  if (!(first >= 8 && first <= most) || !(rounds >= 0 && rounds <= 100) ||
      !(batch >= 1 && batch <= 200))
    return ew_refuse(
        error,
        "--first %.0f, --rounds %.0f, --batch %.0f: 8 to %#.0f first designs, up to 100 "
        "rounds of 1 to 200",
        first, rounds, batch, most);
  if (!(seed >= 0 && seed <= 1e15))
    return ew_refuse(error, "--seed %.0f: a number from 0 up", seed);
  s->first = (int)first;
  s->rounds = (int)rounds;
  s->batch = (int)batch;
  s->seed = (guint64)seed;
  s->options.threads = (int)threads;
  s->options.cell_m = cell;
  return TRUE;
}

/* One of the front as an engine of its own, in the file that it was asked about. */
static gboolean write_member(const struct ew_call *call, const struct ew_search_setup *s,
                             const struct ew_search_answer *a, GError **error) {
  const char *path = ew_call_option(call, "write");
  double number;
  if (!path)
    return TRUE;
  if (!ew_call_quantity(call, "member", EW_KIND_COUNT, 1, &number, error))
    return FALSE;
  if (!(number >= 1 && number <= a->members->len))
    return ew_refuse(error, "--member %.0f: the list has 1 to %u", number, a->members->len);
  const struct ew_search_member *m =
      &g_array_index(a->members, struct ew_search_member, (guint)number - 1);
  g_autofree char *text = ew_call_engine_text(call, ew_call_argument(call, 0), error);
  g_autoptr(GArray) set = ew_variations_new();
  g_autoptr(GError) problem = NULL;
  struct ew_engine engine;
  if (!text)
    return FALSE;
  ew_search_point_is(s->question, a->found.point + m->design * a->ask.axes, set);
  ew_engine_copy(s->setup.engine, &engine);
  g_autofree char *written =
      ew_vary_engine(&engine, set, error) ? ew_engine_rewrite(text, &engine, error) : NULL;
  ew_engine_clear(&engine);
  return written && (g_file_set_contents(path, written, -1, &problem) ||
                     ew_fail(error, "%s", problem->message));
}

static gboolean answer(const struct ew_call *call, const struct ew_search_setup *s,
                       GError **error) {
  struct ew_search_answer a;
  if (ew_call_has(call, "write") && !ew_call_place(ew_call_option(call, "write"), error))
    return FALSE;
  if (!ew_search(s, &a, error))
    return FALSE;
  if (!write_member(call, s, &a, error)) {
    ew_search_answer_clear(&a);
    return FALSE;
  }
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_search_answer_write_json(s, &a, &json);
    ew_answer_end(&json);
  } else
    say_answer(s, &a, ew_call_has(call, "all"), call->units);
  ew_search_answer_clear(&a);
  return TRUE;
}

/* The whole search, a share of it by number, or what a database hands out. */
static gboolean run_asked(const struct ew_call *call, const struct ew_search_setup *s,
                          GError **error) {
  static const char *const only[] = {"task", "lease-time", "again", "gather"};
  gboolean lease = ew_call_has(call, "lease");
  for (gsize i = 0; i < G_N_ELEMENTS(only) && !lease; i++)
    if (ew_call_has(call, only[i]))
      return ew_refuse(error, "--%s goes with --lease ADDRESS alone", only[i]);
  if (!lease)
    return ew_call_has(call, "shard") ? ew_call_search_share(call, s, error)
                                      : answer(call, s, error);
  return ew_call_has(call, "shard")
             ? ew_refuse(error,
                         "--shard and --lease: give one; shares are fixed, leases are handed out")
             : ew_call_search_lease(call, s, error);
}

static gboolean run_search(const struct ew_call *call, GError **error) {
  struct ew_engine engine;
  struct ew_search_question question;
  struct ew_search_setup s;
  const char *path = ew_call_argument(call, 1);
  if (!ew_call_engine(call, ew_call_argument(call, 0), &engine, error))
    return FALSE;
  g_autoptr(ew_node) root = ew_node_read(path, error);
  gboolean good = root && ew_search_question_read(root, path, &question, error);
  if (good) {
    ew_search_setup_defaults(&s);
    s.question = &question;
    s.setup.engine = &engine;
    s.keep = ew_call_option(call, "keep");
    s.options.cancel = &cancelled;
    s.options.progress = ew_call_progress();
    signal(SIGINT, on_interrupt);
    good = ew_call_tune(call, &s.setup.tune, error) &&
           ew_call_prediction_air(call, &s.setup, error) && read_counts(call, &s, error);
    s.setup.spark_deg = question.spark == EW_SPARK_GIVEN ? question.spark_deg : NAN;
    good = good && run_asked(call, &s, error);
    ew_search_question_clear(&question);
  }
  ew_engine_clear(&engine);
  return good;
}

const struct ew_command ew_command_engine_search = {
    .name = "engine search",
    .summary = EW_TEXT("Which combination: cams, lengths, compression and parts turned together"),
    .takes = EW_TEXT("FILE|NAME QUESTION"),
    .least = 2,
    .most = 2,
    .options = search_options,
    .run = run_search,
    .examples =
        "engine search my-engine.yaml question.yaml\n"
        "engine search my-engine.yaml question.yaml --keep runs.txt --rounds 8\n"
        "engine search my-engine.yaml question.yaml --keep runs-1.txt --first 400 --shard 1/4\n"
        "engine search my-engine.yaml question.yaml --keep own.txt --first 400 --lease "
        "postgresql://shop.example/search --gather runs.txt\n"
        "engine search my-engine.yaml question.yaml --keep runs.txt --write chosen.yaml --member 2",
    .more = EW_TEXT("The question is a YAML file: what may be turned, which parts are on the "
                    "shelf, what is wanted, "
                    "and what may not be passed.\nA page of the manual shows one. The same "
                    "question and seed give "
                    "the same answer.")};
