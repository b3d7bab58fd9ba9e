/* build start, load, agree, measure, lash, torque, part, tick, after, attach, fetch, withdraw,
 * template: what puts a build record into the book. */
#include "book/keep.h"
#include "cli/build_call.h"
#include <stdio.h>
#include <string.h>

static gboolean keep_start(const struct ew_call *call, struct ew_build_call *b, guint *added,
                           GError **error) {
  g_autoptr(ew_node) facts = ew_build_call_map(call, EW_BUILD_FACTS);
  const struct ew_build_start_ask ask = {.facts = facts,
                                         .where = "build start",
                                         .targets = ew_call_option(call, "targets"),
                                         .lists = ew_call_option(call, "lists")};
  return ew_bench_build_start(b->book, b->bench.engine_name, ew_call_option(call, "build"), &ask,
                              added, error);
}

static gboolean run_start(const struct ew_call *call, GError **error) {
  struct ew_build_call b;
  guint added = 0;
  gboolean good = ew_build_call_open(call, FALSE, &b, error) && keep_start(call, &b, &added, error);
  if (good && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "engine", b.bench.engine_name);
    ew_json_integer(&json, "records", added);
    ew_answer_end(&json);
  } else if (good)
    ew_say("a build of %s begins, with %u lines of template: common practice, for the shop to "
           "edit; the makers' figures come first",
           b.bench.engine_name, added - 1);
  ew_build_call_clear(&b);
  return good;
}
static const struct ew_option_spec start_options[] = {
    EW_BUILD_OPTIONS,
    {"build", EW_TEXT("TEXT"), EW_TEXT("name of this build"), FALSE},
    {"family", EW_TEXT("TEXT"), EW_TEXT("tag shared by engines of one kind"), FALSE},
    {"block", EW_TEXT("TEXT"), EW_TEXT("material of the block"), FALSE},
    {"head", EW_TEXT("TEXT"), EW_TEXT("material of the heads"), FALSE},
    {"rocker", EW_TEXT("TEXT"), EW_TEXT("type of rocker"), FALSE},
    {"mains", "N", EW_TEXT("main bearings"), FALSE},
    {"targets", EW_TEXT("FILE"), EW_TEXT("the shop's own targets (build template targets)"), FALSE},
    {"lists", EW_TEXT("FILE"), EW_TEXT("the shop's own checklists (build template checklists)"),
     FALSE},
    EW_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_start = {
    .name = "build start",
    .summary = EW_TEXT("Begin the record of a build, with targets and checklists to start from"),
    .takes = "",
    .options = start_options,
    .run = run_start,
    .examples =
        EW_TEXT("build start --build \"first build\" --family sixes --block iron --head aluminium "
                "--rocker \"steel shaft\"\nbuild start --targets my-targets.yaml")};

static gboolean run_load(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, TRUE, TRUE, error);
  struct ew_build_loaded loaded;
  if (!book || !ew_build_load_file(book, ew_call_argument(call, 0), &loaded, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "builds", loaded.builds);
    ew_json_integer(&json, "added", loaded.added);
    ew_json_integer(&json, "there_already", loaded.there);
    ew_json_texts(&json, "engines_added", loaded.engines_added);
    ew_json_texts(&json, "engines_unlike", loaded.engines_unlike);
    ew_answer_end(&json);
  } else {
    for (guint i = 0; i < loaded.engines_added->len; i++)
      ew_say("engine '%s' was not in the book: it was added from the file",
             (const char *)loaded.engines_added->pdata[i]);
    for (guint i = 0; i < loaded.engines_unlike->len; i++)
      ew_say(
          "engine '%s' stands in the book otherwise than in this file: the book's was left as it "
          "is; 'enginewright engine add' of the file changes it",
          (const char *)loaded.engines_unlike->pdata[i]);
    ew_say("builds: %u, records added: %u, already there: %u", loaded.builds, loaded.added,
           loaded.there);
  }
  ew_build_loaded_clear(&loaded);
  return TRUE;
}
static const struct ew_option_spec book_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE}, {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_load = {
    .name = "build load",
    .summary =
        EW_TEXT("Add a build record from a YAML file; the same file again adds only what is new"),
    .takes = EW_TEXT("FILE"),
    .least = 1,
    .most = 1,
    .options = book_options,
    .run = run_load,
    .examples = "build load examples/build/hill-climb-six.yaml --book six.book"};

static gboolean run_template(const struct ew_call *call, GError **error) {
  const char *which = ew_call_argument(call, 0);
  gsize size;
  const char *text = ew_build_own_template(which, &size);
  if (!text)
    return ew_refuse(error, "'%s' is not a template; write targets or checklists", which);
  fwrite(text, 1, size, stdout);
  return TRUE;
}
const struct ew_command ew_command_build_template = {
    .name = "build template",
    .prints_text = TRUE,
    .summary = EW_TEXT("The program's own targets or checklists, as a file to edit"),
    .takes = "targets|checklists",
    .least = 1,
    .most = 1,
    .options = book_options,
    .run = run_template,
    .examples = "build template targets > my-targets.yaml"};

static gboolean run_agree(const struct ew_call *call, GError **error) {
  struct ew_node *map = ew_build_call_map(call, EW_BUILD_AGREED);
  ew_node_put(map, "what", ew_call_argument(call, 0));
  return ew_build_call_keep(call, EW_BUILD_AGREED, map, error);
}
static const struct ew_option_spec agree_options[] = {
    EW_BUILD_OPTIONS,
    {"order", "target|change", EW_TEXT("the target, or a change order"), FALSE},
    {"power", "Q", EW_TEXT("power"), FALSE},
    {"power-speed", "Q", EW_TEXT("its speed"), FALSE},
    {"torque", "Q", EW_TEXT("torque"), FALSE},
    {"limit", "Q", EW_TEXT("highest speed"), FALSE},
    {"fuel", EW_TEXT("TEXT"), EW_TEXT("fuel"), FALSE},
    EW_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_agree = {
    .name = "build agree",
    .summary = EW_TEXT("What was agreed with the customer, or a change order"),
    .takes = EW_TEXT("TEXT"),
    .least = 1,
    .most = 1,
    .options = agree_options,
    .run = run_agree,
    .examples =
        EW_TEXT("build agree \"hill climb, pump fuel\" --power \"195 kW\" --limit \"7000 rpm\"\n"
                "build agree \"lighter flywheel\" --order change")};

static gboolean run_measure(const struct ew_call *call, GError **error) {
  struct ew_node *map = ew_build_call_map(call, EW_BUILD_MEASURE);
  g_autoptr(GPtrArray) readings = g_ptr_array_new();
  ew_node_put(map, "item", ew_call_argument(call, 0));
  ew_node_put(map, "position", ew_call_argument(call, 1));
  for (guint i = 2; i < call->arguments->len; i++)
    g_ptr_array_add(readings, call->arguments->pdata[i]);
  g_ptr_array_add(readings, NULL);
  ew_node_put_list(map, "readings", (const char *const *)readings->pdata);
  return ew_build_call_keep(call, EW_BUILD_MEASURE, map, error);
}
static const struct ew_option_spec measure_options[] = {
    EW_BUILD_OPTIONS,
    {"low", "Q", EW_TEXT("the maker's minimum"), FALSE},
    {"high", "Q", EW_TEXT("the maker's maximum"), FALSE},
    {"from", EW_TEXT("TEXT"), EW_TEXT("whose figure it is"), FALSE},
    {"instrument", EW_TEXT("TEXT"), EW_TEXT("measured with"), FALSE},
    {"resolution", "Q", EW_TEXT("the smallest step that it shows"), FALSE},
    {"stage", EW_TEXT("TEXT"), EW_TEXT("before, after..."), FALSE},
    {"conditions", EW_TEXT("TEXT"), EW_TEXT("tester, supply, temperature"), FALSE},
    {"kind", EW_TEXT("TEXT"), EW_TEXT("quantity, for an item that is not in the template"), FALSE},
    {"sure", NULL, EW_TEXT("the figure is meant, though it is far outside what is usual"), FALSE},
    EW_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_measure = {
    .name = "build measure",
    .summary = EW_TEXT("A measurement at one place, with repeat readings; says at once whether it "
                       "is in tolerance"),
    .takes = EW_TEXT("ITEM POSITION READING..."),
    .least = 3,
    .most = -1,
    .options = measure_options,
    .run = run_measure,
    .examples =
        "build measure \"main clearance\" 3 \"0.058 mm\" \"0.059 mm\" --instrument \"bore "
        "gauge\" --resolution \"0.001 mm\"\nbuild measure \"top ring gap\" \"cyl 2\" \"0.40 "
        "mm\" --low \"0.38 mm\" --from \"ring maker\""};

static gboolean run_torque(const struct ew_call *call, GError **error) {
  struct ew_node *map = ew_build_call_map(call, EW_BUILD_TORQUE);
  ew_node_put(map, "fastener", ew_call_argument(call, 0));
  return ew_build_call_keep(call, EW_BUILD_TORQUE, map, error);
}
static const struct ew_option_spec torque_options[] = {
    EW_BUILD_OPTIONS,
    {"position", EW_TEXT("TEXT"), EW_TEXT("where"), FALSE},
    {"stage", EW_TEXT("TEXT"), EW_TEXT("first, final, again"), FALSE},
    {"torque", "Q", EW_TEXT("torque applied"), FALSE},
    {"angle", "Q", EW_TEXT("angle turned"), FALSE},
    {"stretch", "Q", EW_TEXT("stretch of the bolt"), FALSE},
    {"low", "Q", EW_TEXT("the maker's minimum torque"), FALSE},
    {"high", "Q", EW_TEXT("the maker's maximum"), FALSE},
    {"stretch-low", "Q", EW_TEXT("the maker's minimum stretch"), FALSE},
    {"stretch-high", "Q", EW_TEXT("the maker's maximum"), FALSE},
    {"lubricant", EW_TEXT("TEXT"), EW_TEXT("what was on the threads"), FALSE},
    {"sure", NULL, EW_TEXT("the figure is meant, though it is far outside what is usual"), FALSE},
    EW_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_torque = {
    .name = "build torque",
    .summary = EW_TEXT("Fasteners as tightened and retightened"),
    .takes = EW_TEXT("FASTENER"),
    .least = 1,
    .most = 1,
    .options = torque_options,
    .run = run_torque,
    .examples =
        "build torque \"main caps\" --torque \"95 N.m\" --low \"90 N.m\" --high \"100 N.m\" "
        "--lubricant \"engine oil\""};

static gboolean run_part(const struct ew_call *call, GError **error) {
  struct ew_node *map = ew_build_call_map(call, EW_BUILD_PART);
  ew_node_put(map, "part", ew_call_argument(call, 0));
  return ew_build_call_keep(call, EW_BUILD_PART, map, error);
}
static const struct ew_option_spec part_options[] = {
    EW_BUILD_OPTIONS,
    {"kind", "part|fluid", EW_TEXT("part or fluid"), FALSE},
    {"maker", EW_TEXT("TEXT"), EW_TEXT("who made it"), FALSE},
    {"number", EW_TEXT("TEXT"), EW_TEXT("part number"), FALSE},
    {"batch", EW_TEXT("TEXT"), EW_TEXT("batch, cast or heat number"), FALSE},
    {"serial", EW_TEXT("TEXT"), EW_TEXT("serial number"), FALSE},
    {"position", EW_TEXT("TEXT"), EW_TEXT("where"), FALSE},
    {"quantity", EW_TEXT("TEXT"), EW_TEXT("how many or how much"), FALSE},
    {"life", "Q", EW_TEXT("running time until it is due"), FALSE},
    {"life-above", "Q", EW_TEXT("running time above life-speed until due"), FALSE},
    {"life-speed", "Q", EW_TEXT("that speed"), FALSE},
    {"fitted-at", "Q", EW_TEXT("the engine's running time when it was fitted"), FALSE},
    EW_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_part = {
    .name = "build part",
    .summary =
        EW_TEXT("A part or fluid with batch and serial; 'build find' searches the other way round"),
    .takes = EW_TEXT("PART"),
    .least = 1,
    .most = 1,
    .options = part_options,
    .run = run_part,
    .examples = "build part \"valve springs\" --number VS-480-62 --batch S7-0311 --life \"12 h\""};

static gboolean run_tick(const struct ew_call *call, GError **error) {
  struct ew_node *map = ew_build_call_map(call, EW_BUILD_TICK);
  ew_node_put(map, "list", ew_call_argument(call, 0));
  ew_node_put(map, "step", ew_call_argument(call, 1));
  return ew_build_call_keep(call, EW_BUILD_TICK, map, error);
}
static const struct ew_option_spec tick_options[] = {
    EW_BUILD_OPTIONS,
    {"state", "done|failed|\"does not apply\"", EW_TEXT("how it turned out (done)"), FALSE},
    EW_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_tick = {
    .name = "build tick",
    .summary = EW_TEXT("A step of a checklist: done, failed, or does not apply"),
    .takes = EW_TEXT("LIST STEP"),
    .least = 2,
    .most = 2,
    .options = tick_options,
    .run = run_tick,
    .examples = EW_TEXT(
        "build tick hook-up \"shaft guard on and bolted\"\nbuild tick hook-up \"ignition and "
        "fuel stop tried and working\" --state failed --note \"valve stays open\"")};

static gboolean run_seen(const struct ew_call *call, GError **error) {
  struct ew_node *map = ew_build_call_map(call, EW_BUILD_SEEN);
  ew_node_put(map, "what", ew_call_argument(call, 0));
  ew_node_put(map, "says", ew_call_argument(call, 1));
  return ew_build_call_keep(call, EW_BUILD_SEEN, map, error);
}
static const struct ew_option_spec seen_options[] = {
    EW_BUILD_OPTIONS,
    {"position", EW_TEXT("TEXT"), EW_TEXT("where"), FALSE},
    {"stage", EW_TEXT("TEXT"), EW_TEXT("before, after..."), FALSE},
    {"grade", "fine|watch|stop", EW_TEXT("what it means (fine)"), FALSE},
    EW_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_seen = {
    .name = "build seen",
    .summary = EW_TEXT("What a plug, filter, bearing or leak looked like"),
    .takes = EW_TEXT("WHAT TEXT"),
    .least = 2,
    .most = 2,
    .options = seen_options,
    .run = run_seen,
    .examples = EW_TEXT(
        "build seen plug \"light tan, strap mark in the middle\" --position \"cylinder 1\"\n"
        "build seen plug \"specks on the insulator\" --position \"cylinder 4\" --grade stop")};

static gboolean run_after(const struct ew_call *call, GError **error) {
  struct ew_node *map = ew_build_call_map(call, EW_BUILD_AFTER);
  ew_node_put(map, "what", ew_call_argument(call, 0));
  return ew_build_call_keep(call, EW_BUILD_AFTER, map, error);
}
static const struct ew_option_spec after_options[] = {
    EW_BUILD_OPTIONS,
    {"running", "Q", EW_TEXT("running time to add"), FALSE},
    {"runs", "N", EW_TEXT("runs to add"), FALSE},
    EW_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_after = {
    .name = "build after",
    .summary =
        EW_TEXT("What was reported of the engine after delivery, with running time and runs"),
    .takes = EW_TEXT("TEXT"),
    .least = 1,
    .most = 1,
    .options = after_options,
    .run = run_after,
    .examples =
        EW_TEXT("build after \"phoned: two meetings, runs well\" --running \"1.5 h\" --runs 11")};

static gboolean keep_attachment(struct ew_build_call *b, const char *path, const char *note,
                                gint64 *id, GError **error) {
  g_autoptr(GBytes) bytes = ew_read_file(path, error);
  g_autofree char *name = g_path_get_basename(path);
  if (!bytes)
    return FALSE;
  const struct ew_owner owner = {EW_OWNER_BUILD, b->bench.build->id, NULL};
  *id = ew_keep_attachment(b->book, &owner, name, bytes, note, NULL, error);
  return *id != 0;
}

static gboolean run_attach(const struct ew_call *call, GError **error) {
  struct ew_build_call b;
  gint64 id = 0;
  gboolean good =
      ew_build_call_open(call, TRUE, &b, error) &&
      keep_attachment(&b, ew_call_argument(call, 0), ew_call_option(call, "note"), &id, error);
  if (good && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "id", id);
    ew_answer_end(&json);
  } else if (good)
    ew_say("attachment %lld", (long long)id);
  ew_build_call_clear(&b);
  return good;
}
static const struct ew_option_spec attach_options[] = {
    EW_BUILD_OPTIONS,
    {"note", EW_TEXT("TEXT"), EW_TEXT("remark"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_attach = {
    .name = "build attach",
    .summary = EW_TEXT("Attach a photo or file of up to 64 MB to the build, kept with its digest"),
    .takes = EW_TEXT("FILE"),
    .least = 1,
    .most = 1,
    .options = attach_options,
    .run = run_attach,
    .examples = EW_TEXT("build attach cam-card.pdf --note \"cam card as supplied\"")};

static gboolean run_fetch(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  gint64 id = g_ascii_strtoll(ew_call_argument(call, 0), NULL, 10);
  g_autoptr(GBytes) bytes = book ? ew_attachment_bytes(book, id, error) : NULL;
  struct ew_attachment_row row;
  if (!bytes || !ew_attachment_get(book, id, &row, error))
    return FALSE;
  g_autofree char *name = g_strdup(row.name);
  const char *out = ew_call_option(call, "out") ? ew_call_option(call, "out") : name;
  ew_attachment_row_clear(&row);
  gsize size;
  const char *data = g_bytes_get_data(bytes, &size);
  if (g_file_test(out, G_FILE_TEST_EXISTS))
    return ew_refuse(error, "%s: this file already exists; choose another with --out", out);
  if (!g_file_set_contents(out, data, (gssize)size, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "id", id);
    ew_json_text(&json, "file", out);
    ew_json_integer(&json, "bytes", (gint64)size);
    ew_answer_end(&json);
  } else
    ew_say("%s", out);
  return TRUE;
}
static const struct ew_option_spec fetch_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"out", EW_TEXT("FILE"), EW_TEXT("where to write it"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_fetch = {
    .name = "build fetch",
    .summary = EW_TEXT("Get a photo or file out of the book, checked against its digest"),
    .takes = EW_TEXT("ID"),
    .least = 1,
    .most = 1,
    .options = fetch_options,
    .run = run_fetch,
    .examples = "build fetch 1 --out from-the-book.pdf"};

static gboolean run_withdraw(const struct ew_call *call, GError **error) {
  const char *why = ew_call_option(call, "reason");
  gint64 id = g_ascii_strtoll(ew_call_argument(call, 0), NULL, 10);
  if (!why || !*why)
    return ew_refuse(error, "--reason is needed: a withdrawn record is kept with its reason");
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  if (!book || !ew_keep_build_withdrawn(book, id, why, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "id", id);
    ew_json_text(&json, "withdrawn", why);
    ew_answer_end(&json);
  } else
    ew_say("record %lld withdrawn", (long long)id);
  return TRUE;
}
static const struct ew_option_spec withdraw_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"reason", EW_TEXT("TEXT"), EW_TEXT("the reason"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_withdraw = {
    .name = "build withdraw",
    .summary = EW_TEXT("Withdraw a wrong record; it is kept, with the reason"),
    .takes = EW_TEXT("ID"),
    .least = 1,
    .most = 1,
    .options = withdraw_options,
    .run = run_withdraw,
    .examples = EW_TEXT("build withdraw 41 --reason \"read on the wrong cylinder\"")};
