/* engine search: which combination answers a question best. */
#include "base/number.h"
#include "base/words.h"
#include "cli/predict_asked.h"
#include "cli/search_lease.h"
#include "cli/search_said.h"
#include "cli/search_share.h"
#include "desk/search.h"
#include "desk/shelf.h"
#include "desk/variation_file.h"
#include "desk/vary.h"
#include <math.h>
#include <signal.h>
#include <string.h>

#define SHARED_MOST                                                                                \
  200000.0 /* first designs that are shared out: nothing is learned from them, but each worker lists them all */

static gint cancelled;
static void on_interrupt(int signal_number) {
  (void)signal_number;
  cancelled = 1;
}

static const struct ew_option_spec search_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book, when the engine or parts are named"),
     FALSE},
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
    ew_call_search_said(s, &a, ew_call_has(call, "all"), call->units);
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

/* The book is opened only for a question that names parts of its shelf. */
static gboolean read_question(const struct ew_call *call, const char *path,
                              struct ew_search_question *question, GError **error) {
  g_autoptr(ew_node) root = ew_node_read(path, error);
  g_autoptr(GPtrArray) shelf = NULL;
  if (!root)
    return FALSE;
  if (ew_search_question_names_parts(root)) {
    g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
    if (!book || !(shelf = ew_shelf_load(book, NULL, error)) ||
        !ew_shelf_take_prices(book, shelf, NULL, error))
      return FALSE;
  }
  return ew_search_question_read(root, path, shelf, question, error);
}

static gboolean run_search(const struct ew_call *call, GError **error) {
  struct ew_engine engine;
  struct ew_search_question question;
  struct ew_search_setup s;
  const char *path = ew_call_argument(call, 1);
  if (!ew_call_engine(call, ew_call_argument(call, 0), &engine, error))
    return FALSE;
  gboolean good = read_question(call, path, &question, error);
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
