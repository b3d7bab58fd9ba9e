/* job new, wish, quote, sent, agree, change, engine, order, came, hours, remind, heard, end, withdraw: what is kept of a
 * customer's job. Reading it is job_show.c. */
#include "cli/build_call.h"
#include "cli/job_call.h"
#include <string.h>

/* ---- the wish ---- */

#define WISH_OPTIONS                                                                               \
  {"customer", EW_TEXT("NAME"), EW_TEXT("who wants it"), FALSE},                                   \
      {"wish", EW_TEXT("TEXT"), EW_TEXT("what is wanted, in the customer's words"), FALSE},        \
      {"use", EW_TEXT("TEXT"), EW_TEXT("what it is for"), FALSE},                                  \
      {"fuel", EW_TEXT("TEXT"), EW_TEXT("fuel"), FALSE}, EW_JOB_FIGURE_OPTIONS,                    \
      {"idle", "Q", EW_TEXT("idle speed"), FALSE},                                                 \
      {"budget", EW_TEXT("AMOUNT"), EW_TEXT("what it may cost"), FALSE}, {                         \
    "by", EW_TEXT("DATE"), EW_TEXT("the day it is wanted by"), FALSE                               \
  }

static gboolean run_new(const struct ew_call *call, GError **error) {
  const char *name = ew_call_argument(call, 0);
  g_autoptr(ew_node) map = ew_job_call_map(call, EW_JOB_WISH);
  g_autoptr(ew_book) book = ew_call_book(call, TRUE, TRUE, error);
  gint64 id = book ? ew_job_begin(book, name, map, call->command->name, error) : 0;
  if (!id)
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "job", id);
    ew_json_text(&json, "name", name);
    ew_answer_end(&json);
  } else
    ew_say("job %lld, %s; next: job quote \"%s\" CODE=QUANTITY...", (long long)id, name, name);
  return TRUE;
}
static const struct ew_option_spec wish_options[] = {
    WISH_OPTIONS, EW_JOB_MARK_OPTIONS, {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_new = {
    .name = "job new",
    .summary = EW_TEXT("A customer's job begins with the wish, in words and in figures"),
    .takes = EW_TEXT("NAME"),
    .least = 1,
    .most = 1,
    .options = wish_options,
    .run = run_new,
    .examples = EW_TEXT(
        "job new \"summer six\" --customer \"B. Hollow\" --wish \"pulls from 2,500, no drama in "
        "town\" "
        "--power \"195 kW\" --power-speed \"6000 rpm\" --limit \"7000 rpm\" --idle \"900 rpm\" "
        "--fuel \"98 octane\" --budget 14500 --by 2027-03-31"),
    .more =
        EW_TEXT("The name is one that the shop gives: the customer is named by the quote and the "
                "shop's screens, never by an order list,\nbuild record or link for others.")};

/* What is not given stays as it was wished. */
static gboolean run_wish(const struct ew_call *call, GError **error) {
  const struct ew_fields *table = ew_job_fields(EW_JOB_WISH);
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(ew_job) job = book ? ew_job_get(book, ew_call_argument(call, 0), error) : NULL;
  const struct ew_job_wish *last = job ? ew_job_last(job, EW_JOB_WISH) : NULL;
  if (!job)
    return FALSE;
  struct ew_node *map = ew_job_call_map(call, EW_JOB_WISH);
  for (gsize i = 0; last && i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    g_autofree char *before = ew_field_typed(field, last);
    if (!ew_node_member(map, field->name) && before && strcmp(field->name, "at") != 0 &&
        strcmp(field->name, "who") != 0)
      ew_node_put(map, field->name, before);
  }
  g_clear_pointer(&book, ew_book_close);
  return ew_job_call_do(call, EW_JOB_WISH, map, NULL, error);
}
const struct ew_command ew_command_job_wish = {
    .name = "job wish",
    .summary = EW_TEXT("The wish put otherwise, until a quote is agreed; what is not given stays"),
    .takes = EW_TEXT("JOB"),
    .least = 1,
    .most = 1,
    .options = wish_options,
    .run = run_wish,
    .examples = "job wish \"summer six\" --by 2027-04-15"};

/* ---- quote, sent, agreed, changed ---- */

static gboolean keep_with_lines(const struct ew_call *call, enum ew_job_kind kind,
                                struct ew_node *map, guint first, GError **error) {
  GArray *lines = ew_job_call_lines(call, first, error);
  if (lines)
    return ew_job_call_do(call, kind, map, lines, error);
  ew_node_free(map);
  return FALSE;
}

static gboolean run_quote(const struct ew_call *call, GError **error) {
  return keep_with_lines(call, EW_JOB_QUOTE, ew_job_call_map(call, EW_JOB_QUOTE), 1, error);
}
static const struct ew_option_spec quote_options[] = {
    {"lines", EW_TEXT("FILE"), EW_TEXT("a table with the columns code and quantity"), FALSE},
    {"until", EW_TEXT("DATE"), EW_TEXT("the last day on which it is good"), FALSE},
    EW_JOB_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_quote = {
    .name = "job quote",
    .summary = EW_TEXT("A quote with the prices of now, which it keeps; a further one replaces it"),
    .takes = EW_TEXT("JOB [CODE=QUANTITY...]"),
    .least = 1,
    .most = -1,
    .options = quote_options,
    .run = run_quote,
    .examples = "job quote \"summer six\" gasket-set=1 valve-spring=8 assembly=26",
    .more = EW_TEXT("Sums go to a cent, each line by itself; currency and tax are texts, and "
                    "nothing is worked out from them.")};

static gboolean run_sent(const struct ew_call *call, GError **error) {
  return ew_job_call_do(call, EW_JOB_SENT, ew_job_call_map(call, EW_JOB_SENT), NULL, error);
}
static const struct ew_option_spec sent_options[] = {
    {"quote", "N", EW_TEXT("which quote (default: the newest)"), FALSE},
    {"to", EW_TEXT("TEXT"), EW_TEXT("to whom"), FALSE},
    EW_JOB_SURE_OPTION,
    EW_JOB_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_sent = {
    .name = "job sent",
    .summary = EW_TEXT("A quote went to the customer"),
    .takes = EW_TEXT("JOB"),
    .least = 1,
    .most = 1,
    .options = sent_options,
    .run = run_sent,
    .examples = EW_TEXT("job sent \"summer six\" --to \"by post\"")};

static gboolean run_agree(const struct ew_call *call, GError **error) {
  return ew_job_call_do(call, EW_JOB_AGREED, ew_job_call_map(call, EW_JOB_AGREED), NULL, error);
}
static const struct ew_option_spec agree_options[] = {
    {"by", EW_TEXT("NAME"), EW_TEXT("who signed"), FALSE},
    {"quote", "N", EW_TEXT("which quote (default: the newest)"), FALSE},
    EW_JOB_SURE_OPTION,
    EW_JOB_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_agree = {
    .name = "job agree",
    .summary = EW_TEXT("A quote was signed: its figures become what the build record calls agreed"),
    .takes = EW_TEXT("JOB"),
    .least = 1,
    .most = 1,
    .options = agree_options,
    .run = run_agree,
    .examples = "job agree \"summer six\" --by \"B. Hollow\"",
    .more =
        EW_TEXT("The power, torque, speeds and fuel of the wish go into the build record ('build "
                "agree'), where the report and the\nhand-over look; of a job without an engine, "
                "when 'job engine' names it.")};

static gboolean run_change(const struct ew_call *call, GError **error) {
  struct ew_node *map = ew_job_call_map(call, EW_JOB_CHANGE);
  ew_node_put(map, "what", ew_call_argument(call, 1));
  return keep_with_lines(call, EW_JOB_CHANGE, map, 2, error);
}
static const struct ew_option_spec change_options[] = {
    {"by", EW_TEXT("NAME"), EW_TEXT("who signed"), FALSE},
    {"lines", EW_TEXT("FILE"), EW_TEXT("a table with the columns code and quantity"), FALSE},
    EW_JOB_FIGURE_OPTIONS,
    {"fuel", EW_TEXT("TEXT"), EW_TEXT("fuel"), FALSE},
    EW_JOB_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_change = {
    .name = "job change",
    .summary = EW_TEXT("A change order, signed: lines more or less, figures that are agreed now"),
    .takes = EW_TEXT("JOB TEXT [CODE=QUANTITY...]"),
    .least = 2,
    .most = -1,
    .options = change_options,
    .run = run_change,
    .examples = EW_TEXT("job change \"summer six\" \"eight springs of the other make\" "
                        "valve-spring=-8 valve-spring-dual=8 --by \"B. Hollow\""),
    .more = EW_TEXT("A code that the quote has goes by the quote's price, any other by the price "
                    "table of now. A negative quantity\ntakes off.")};

/* ---- the engine ---- */

static gboolean run_engine(const struct ew_call *call, GError **error) {
  struct ew_node *map = ew_job_call_map(call, EW_JOB_ENGINE);
  ew_node_put(map, "engine", ew_call_argument(call, 1));
  return ew_job_call_do(call, EW_JOB_ENGINE, map, NULL, error);
}
static const struct ew_option_spec engine_options[] = {
    EW_JOB_SURE_OPTION, EW_JOB_MARK_OPTIONS, {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_engine = {
    .name = "job engine",
    .summary = EW_TEXT("Which engine it is: its build record gets what was agreed and has come"),
    .takes = EW_TEXT("JOB ENGINE"),
    .least = 2,
    .most = 2,
    .options = engine_options,
    .run = run_engine,
    .examples = "job engine \"summer six\" \"hill-climb six\""};

/* ---- parts ---- */

static gboolean run_order(const struct ew_call *call, GError **error) {
  return ew_job_call_do(call, EW_JOB_ORDER, ew_job_call_map(call, EW_JOB_ORDER), NULL, error);
}
static const struct ew_option_spec order_options[] = {
    {"supplier", EW_TEXT("NAME"), EW_TEXT("from this one alone (default: one order for each)"),
     FALSE},
    {"due", EW_TEXT("DATE"), EW_TEXT("the day it should come by (default: by the table's days)"),
     FALSE},
    EW_JOB_SURE_OPTION,
    EW_JOB_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_order = {
    .name = "job order",
    .summary = EW_TEXT("Parts of the quote and its changes that are not ordered yet, by supplier"),
    .takes = EW_TEXT("JOB"),
    .least = 1,
    .most = 1,
    .options = order_options,
    .run = run_order,
    .examples = "job order \"summer six\""};

static gboolean run_came(const struct ew_call *call, GError **error) {
  const char *text = ew_call_option(call, "quantity");
  struct ew_node *map = ew_job_call_map(call, EW_JOB_CAME);
  GArray *lines = NULL;
  ew_node_put(map, "code", ew_call_argument(call, 1));
  if (text && !(lines = ew_job_call_quantity(ew_call_argument(call, 1), text, error))) {
    ew_node_free(map);
    return FALSE;
  }
  return ew_job_call_do(call, EW_JOB_CAME, map, lines, error);
}
static const struct ew_option_spec came_options[] = {
    {"quantity", "N", EW_TEXT("how many (default: all that are still out)"), FALSE},
    {"batch", EW_TEXT("TEXT"), EW_TEXT("batch, cast or heat number"), FALSE},
    {"serial", EW_TEXT("TEXT"), EW_TEXT("serial number, of one piece"), FALSE},
    {"position", EW_TEXT("TEXT"), EW_TEXT("where it is fitted"), FALSE},
    {"order", "N", EW_TEXT("with which order (default: the first that it is missing from)"), FALSE},
    EW_JOB_SURE_OPTION,
    EW_JOB_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_came = {
    .name = "job came",
    .summary = EW_TEXT("A part has come; with batch and serial it goes into the build record"),
    .takes = EW_TEXT("JOB CODE"),
    .least = 2,
    .most = 2,
    .options = came_options,
    .run = run_came,
    .examples = "job came \"summer six\" valve-spring-dual --batch S7-0311",
    .more = EW_TEXT("CODE is the shop's code or the supplier's number.")};

/* ---- hours ---- */

static gboolean run_hours(const struct ew_call *call, GError **error) {
  struct ew_node *map = ew_job_call_map(call, EW_JOB_HOURS);
  ew_node_put(map, "code", ew_call_argument(call, 1));
  ew_node_put(map, "spent", ew_call_argument(call, 2));
  return ew_job_call_do(call, EW_JOB_HOURS, map, NULL, error);
}
static const struct ew_option_spec hours_options[] = {
    {"what", EW_TEXT("TEXT"), EW_TEXT("what was done"), FALSE},
    EW_JOB_SURE_OPTION,
    EW_JOB_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_hours = {
    .name = "job hours",
    .summary = EW_TEXT("Hours of one day, of one person, at one kind of work"),
    .takes = EW_TEXT("JOB CODE HOURS"),
    .least = 3,
    .most = 3,
    .options = hours_options,
    .run = run_hours,
    .examples = EW_TEXT("job hours \"summer six\" assembly \"3.5 h\" --what \"short block\"")};

/* ---- afterwards ---- */

static gboolean run_remind(const struct ew_call *call, GError **error) {
  struct ew_node *map = ew_job_call_map(call, EW_JOB_REMINDER);
  ew_node_put(map, "what", ew_call_argument(call, 1));
  ew_node_put(map, "state", ew_call_has(call, "done") ? "done" : "open");
  return ew_job_call_do(call, EW_JOB_REMINDER, map, NULL, error);
}
static const struct ew_option_spec remind_options[] = {
    {"running", "Q", EW_TEXT("due after this much running since it left"), FALSE},
    {"by", EW_TEXT("DATE"), EW_TEXT("due by this day"), FALSE},
    {"done", NULL, EW_TEXT("it is done"), FALSE},
    EW_JOB_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_remind = {
    .name = "job remind",
    .summary = EW_TEXT("What is to be done after it has left: lash, oil, freshen-up"),
    .takes = EW_TEXT("JOB TEXT"),
    .least = 2,
    .most = 2,
    .options = remind_options,
    .run = run_remind,
    .examples = EW_TEXT("job remind \"summer six\" \"valve lash\" --running \"1 h\"\n"
                        "job remind \"summer six\" \"oil and filter\" --running \"10 h\" --by "
                        "2027-11-30"),
    .more = EW_TEXT("The same name again replaces the one before. Intervals are the maker's or the "
                    "shop's own: the program has none.")};

static gboolean run_heard(const struct ew_call *call, GError **error) {
  const char *job = ew_call_argument(call, 0), *what = ew_call_argument(call, 1);
  g_autoptr(ew_node) map = ew_build_call_map(call, EW_BUILD_AFTER);
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  ew_node_put(map, "what", what);
  if (!book || !ew_job_heard(book, job, map, call->command->name, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "job", job);
    ew_json_text(&json, "what", what);
    ew_answer_end(&json);
  } else
    ew_say("kept in the build record, after the hand-over: %s", what);
  return TRUE;
}
static const struct ew_option_spec heard_options[] = {
    {"running", "Q", EW_TEXT("running time to add"), FALSE},
    {"runs", "N", EW_TEXT("runs to add"), FALSE},
    EW_JOB_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_heard = {
    .name = "job heard",
    .summary = EW_TEXT("What was heard of it afterwards, into its build record ('build after')"),
    .takes = EW_TEXT("JOB TEXT"),
    .least = 2,
    .most = 2,
    .options = heard_options,
    .run = run_heard,
    .examples = EW_TEXT(
        "job heard \"summer six\" \"two meetings, runs well\" --running \"1.5 h\" --runs 11")};

static gboolean run_end(const struct ew_call *call, GError **error) {
  return ew_job_call_do(call, EW_JOB_END, ew_job_call_map(call, EW_JOB_END), NULL, error);
}
static const struct ew_option_spec end_options[] = {
    {"how", "shipped|cancelled", EW_TEXT("how it ended (shipped)"), FALSE},
    EW_JOB_SURE_OPTION,
    EW_JOB_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_end = {
    .name = "job end",
    .summary =
        EW_TEXT("It was shipped, or it was cancelled: quotes, changes and orders are closed"),
    .takes = EW_TEXT("JOB"),
    .least = 1,
    .most = 1,
    .options = end_options,
    .run = run_end,
    .examples = "job end \"summer six\" --how shipped"};

static gboolean run_withdraw(const struct ew_call *call, GError **error) {
  const char *word = ew_call_argument(call, 0), *why = ew_call_option(call, "reason");
  char *end = NULL;
  guint64 id = g_ascii_strtoull(word, &end, 10);
  if (!g_ascii_isdigit(*word) || *end || id > G_MAXINT64)
    return ew_refuse(error, "'%.40s' is not the number of a record; 'job show' lists them", word);
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  if (!book || !ew_job_take_back(book, (gint64)id, why, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "withdrawn", (gint64)id);
    ew_answer_end(&json);
  } else
    ew_say("record %lld is withdrawn and kept with its reason", (long long)id);
  return TRUE;
}
static const struct ew_option_spec withdraw_options[] = {
    {"reason", EW_TEXT("TEXT"), EW_TEXT("what is wrong with it"), FALSE},
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_job_withdraw = {
    .name = "job withdraw",
    .summary = EW_TEXT("Withdraw a record of a job, and what it wrote into the build record"),
    .takes = EW_TEXT("RECORD"),
    .least = 1,
    .most = 1,
    .options = withdraw_options,
    .run = run_withdraw,
    .examples = EW_TEXT("job withdraw 12 --reason \"those hours were of another job\"")};
