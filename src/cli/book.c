/* The book: making, settings, looking into, checking, copying. */
#include "base/error.h"
#include "base/labels.h"
#include "base/language.h"
#include "desk/sheet_head.h"
#include "book/keep.h"
#include "book/ledger.h"
#include "book/media.h"
#include "book/verify.h"
#include "cli/backup.h"
#include "cli/command.h"
#include "cli/shop_copy.h"
#include "cli/thin.h"
#include "desk/loaded.h"
#include <errno.h>
#include <glib/gstdio.h>
#include <string.h>

#define SHOP_OPTIONS                                                                               \
  {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},                                    \
      {"shop", EW_TEXT("TEXT"), EW_TEXT("name of the shop, for sheets"), FALSE},                   \
      {"line", EW_TEXT("TEXT"), EW_TEXT("a line under the name: place, telephone"), FALSE},        \
      {"terms", EW_TEXT("TEXT"), EW_TEXT("terms at the foot of sheets"), FALSE},                   \
      {"logo", EW_TEXT("FILE"), EW_TEXT("logo, PNG up to 1 MB"), FALSE},                           \
      {"zone", EW_TEXT("ZONE"),                                                                    \
       EW_TEXT("the shop's time zone, for example Europe/Berlin: it sets where a day begins"),     \
       FALSE},                                                                                     \
      {"paper", "a4|letter", EW_TEXT("paper of sheets"), FALSE},                                   \
      {"labels", "british|american", EW_TEXT("spelling and terms of screens and sheets"), FALSE},  \
      {"sheet-language", EW_TEXT("CODE"), EW_TEXT("language of sheets for the customer: en, de"),  \
       FALSE},                                                                                     \
      {"cell-file", EW_TEXT("FILE"), EW_TEXT("the cell in YAML ('book template cell')"), FALSE},   \
      {"method-file", EW_TEXT("FILE"),                                                             \
       EW_TEXT("the shop's method in YAML ('book template method')"), FALSE},                      \
      EW_IDLE_OPTIONS, {                                                                           \
    "sheet-units", "si|us",                                                                        \
        EW_TEXT(                                                                                   \
            "the shop's units: of sheets, of what is printed, and of recordings that name none"),  \
        FALSE                                                                                      \
  }

static const struct ew_option_spec template_options[] = {{NULL, NULL, NULL, FALSE}};
static const struct ew_option_spec new_options[] = {
    SHOP_OPTIONS, EW_OPTION_SHARED, {NULL, NULL, NULL, FALSE}};
static const struct ew_option_spec shop_options[] = {SHOP_OPTIONS, {NULL, NULL, NULL, FALSE}};

/* A setting that this call gives; its value is the array's. */
static void give(GArray *settings, const char *key, char *value) {
  struct ew_setting one = {.key = key, .value = value};
  g_array_append_val(settings, one);
}

static void setting_clear(void *data) {
  g_free((char *)(gsize)((struct ew_setting *)data)->value);
}

static gboolean read_logo(GArray *settings, const char *path, GError **error) {
  g_autoptr(GBytes) bytes = ew_read_file(path, error);
  if (!bytes)
    return FALSE;
  gsize size;
  const guchar *data = g_bytes_get_data(bytes, &size);
  if (size > 1048576 || strcmp(ew_media_of(data, size), "image/png") != 0)
    return ew_refuse(error, "--logo %s: give a PNG picture of up to 1 MB", path);
  give(settings, "logo", g_base64_encode(data, size));
  return TRUE;
}

static gboolean read_record(const struct ew_call *call, GArray *settings, const char *option,
                            const char *key, const struct ew_fields *table, gsize size,
                            GError **error) {
  const char *path = ew_call_option(call, option);
  if (!path)
    return TRUE;
  g_autoptr(ew_node) root = ew_node_read(path, error);
  g_autofree void *record = g_malloc0(size);
  if (!root || !ew_fields_read(table, root, path, NULL, record, error))
    return FALSE;
  give(settings, key, ew_fields_write_yaml(table, record));
  ew_fields_clear(table, record);
  return TRUE;
}

static gboolean store_shop(const struct ew_call *call, struct ew_book *book, GError **error) {
  g_autoptr(GArray) settings = g_array_new(FALSE, FALSE, sizeof(struct ew_setting));
  g_array_set_clear_func(settings, setting_clear);
  static const char *const keys[][2] = {
      {"shop", "shop"},         {"line", "shop_line"},
      {"terms", "terms"},       {"paper", "paper"},
      {"labels", "labels"},     {"units", "units"}, /* who says it of a book means the book */
      {"sheet-units", "units"}, {"sheet-language", EW_SHEET_LANGUAGE},
      {"zone", "zone"}};
  for (gsize i = 0; i < G_N_ELEMENTS(keys); i++) {
    const char *value = ew_call_option(call, keys[i][0]);
    gboolean again = strcmp(keys[i][0], "units") == 0 && ew_call_has(call, "sheet-units");
    if (value && !again)
      give(settings, keys[i][1], g_strdup(value));
  }
  const char *logo = ew_call_option(call, "logo");
  char *idle = NULL;
  gboolean ruled = FALSE;
  if (!ew_idle_rule_asked(call, book, &idle, &ruled, error))
    return FALSE;
  if (ruled)
    give(settings, EW_THIN_SETTING, idle);
  return (!logo || read_logo(settings, logo, error)) &&
         read_record(call, settings, "cell-file", "cell", &ew_bench_fields, sizeof(struct ew_bench),
                     error) &&
         read_record(call, settings, "method-file", "method", &ew_method_fields,
                     sizeof(struct ew_method), error) &&
         ew_keep_settings(book, (const struct ew_setting *)(void *)settings->data, settings->len,
                          error);
}

static gboolean check_choices(const struct ew_call *call, GError **error) {
  const char *paper = ew_call_option(call, "paper"), *units = ew_call_option(call, "sheet-units"),
             *labels = ew_call_option(call, "labels"),
             *language = ew_call_option(call, "sheet-language"),
             *zone_name = ew_call_option(call, "zone");
  enum ew_labels words;
  g_autoptr(GTimeZone) zone = zone_name ? ew_zone_find(zone_name, error) : NULL;
  if (zone_name && !zone)
    return FALSE;
  if (paper && strcmp(paper, "a4") && strcmp(paper, "letter"))
    return ew_refuse(error, "--paper '%s' is neither a4 nor letter", paper);
  if (units && strcmp(units, "si") && strcmp(units, "us"))
    return ew_refuse(error, "--sheet-units '%s' is neither si nor us", units);
  if (!ew_labels_find(labels, &words))
    return ew_refuse(error, "--labels '%s' is neither british nor american", labels);
  if (language && *language && !ew_language_find(language, error)) {
    g_prefix_error(error, "--sheet-language: ");
    return FALSE;
  }
  return TRUE;
}

static gboolean settle_book(const struct ew_call *call, struct ew_book *book, gboolean fresh,
                            GError **error) {
  if (!book || !store_shop(call, book, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "book", ew_book_path(book));
    ew_answer_end(&json);
  } else
    ew_say(fresh ? EW_TEXT("made %s") : EW_TEXT("settings kept in %s"), ew_book_path(book));
  struct ew_thin_rule rule;
  gboolean stands;
  if (!call->json && ew_thin_rule_get(book, &rule, &stands, NULL) && stands)
    ew_idle_rule_say(&rule, TRUE);
  return TRUE;
}

static gboolean run_new(const struct ew_call *call, GError **error) {
  const char *given = ew_call_option(call, "book");
  g_autofree char *path = given ? g_strdup(given) : ew_book_default_path();
  if (!check_choices(call, error) || !ew_shop_is_file(path, error))
    return FALSE;
  if (g_file_test(path, G_FILE_TEST_EXISTS))
    return ew_refuse(error, "%s: this file already exists; 'book set' changes a book's settings",
                     path);
  g_autoptr(ew_book) book = ew_book_open(path, TRUE, error);
  if (book && ew_call_has(call, "shared") && !ew_share_file(path, error))
    return FALSE;
  return settle_book(call, book, TRUE, error);
}
const struct ew_command ew_command_book_new = {
    .name = "book new",
    .summary = EW_TEXT("Make a book"),
    .takes = "",
    .options = new_options,
    .run = run_new,
    .examples =
        EW_TEXT("book new --shop \"Weir Lane Engines\" --paper a4\nbook new --book club.book")};

static gboolean run_template(const struct ew_call *call, GError **error) {
  const char *which = ew_call_argument(call, 0);
  gboolean cell = strcmp(which, "cell") == 0;
  if (!cell && strcmp(which, "method") != 0)
    return ew_refuse(error, "'%s' is not a book template; write cell or method", which);
  g_autofree char *fields = ew_fields_template(cell ? &ew_bench_fields : &ew_method_fields);
  ew_say("# %s. Write any unit that is usual; take the # away where a figure is known.\n# Then: "
         "enginewright book set --%s-file THIS-FILE\n",
         cell ? ew_tr("The cell: absorber, arm, and how far its readings can be off")
              : ew_tr("How curves are computed from raw samples"),
         which);
  fputs(fields, stdout);
  return TRUE;
}
const struct ew_command ew_command_book_template = {
    .name = "book template",
    .prints_text = TRUE,
    .summary = EW_TEXT("The cell's file or the method's, with every field, to fill in"),
    .takes = "cell|method",
    .least = 1,
    .most = 1,
    .options = template_options,
    .run = run_template,
    .examples = "book template cell > my-cell.yaml\nbook template method > my-method.yaml"};

static gboolean run_set(const struct ew_call *call, GError **error) {
  if (!check_choices(call, error))
    return FALSE;
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  return settle_book(call, book, FALSE, error);
}
const struct ew_command ew_command_book_set = {
    .name = "book set",
    .summary = EW_TEXT("Shop name, logo, terms, paper, labels, cell and method of a book"),
    .takes = "",
    .options = shop_options,
    .run = run_set,
    .examples = EW_TEXT("book set --labels american\nbook set --logo logo.png --terms \"Prices on "
                        "request.\"\nbook set --cell-file "
                        "cell-1.yaml")};

static const struct ew_option_spec book_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"engine", EW_TEXT("NAME"), EW_TEXT("the running hours of this engine only"), FALSE},
    {NULL, NULL, NULL, FALSE}};
static const struct ew_option_spec whole_book_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE}, {NULL, NULL, NULL, FALSE}};

static void say_ledger(const struct ew_ledger *l) {
  ew_say("recordings: %d, pulls: %d, heat cycles: %d, running: %.2f h, highest speed: %#.0f rpm",
         l->recordings, l->pulls, l->heat_cycles, l->running_s / 3600, l->highest_rpm);
  for (int k = 8; k < EW_LEDGER_SPEEDS; k++)
    if (l->above_s[k] > 0)
      ew_say("  above %5d rpm  %8.1f s", 500 * k, l->above_s[k]);
}

/* What the shop set, so that a forgotten setting is seen. */
static gboolean say_settings(struct ew_book *book, GError **error) {
  const struct {
    const char *key, *says, *without;
  } lines[] = {{"shop", EW_TEXT("shop: %s"), EW_TEXT("not set: book set --shop")},
               {"units", EW_TEXT("units: %s"), "si"},
               {"zone", EW_TEXT("time zone: %s"), EW_TEXT("not set: book set --zone")},
               {"paper", EW_TEXT("paper: %s"), "a4"},
               {EW_SHEET_LANGUAGE, EW_TEXT("sheets for the customer: language %s"), NULL}};
  for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) {
    g_autofree char *value = NULL;
    if (!ew_setting_get(book, lines[i].key, &value, error))
      return FALSE;
    if ((value && *value) || lines[i].without)
      ew_say(lines[i].says, value && *value ? value : ew_tr(lines[i].without));
  }
  return TRUE;
}

static gboolean run_info(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_engine_row engine = {0};
  const char *name = ew_call_option(call, "engine");
  if (!book)
    return FALSE;
  if (name && !ew_engine_get(book, name, &engine, error))
    return FALSE;
  struct ew_ledger ledger;
  gboolean good = ew_ledger_read(book, engine.id, &ledger, error);
  ew_engine_row_clear(&engine);
  if (!good)
    return FALSE;
  g_autoptr(ew_message) overdue = NULL;
  g_autofree char *language = NULL, *zone = NULL;
  if (!ew_calibration_overdue(book, &overdue, error) ||
      !ew_setting_get(book, EW_SHEET_LANGUAGE, &language, error) ||
      !ew_setting_get(book, "zone", &zone, error))
    return FALSE;
  if (!call->json) {
    ew_say("%s", ew_book_path(book));
    if (!say_settings(book, error))
      return FALSE;
    say_ledger(&ledger);
    if (!ew_idle_info(call, book, NULL, error))
      return FALSE;
    g_autofree char *caution = overdue ? ew_message_text(overdue, call->units) : NULL;
    if (caution)
      ew_say("caution: %s", caution);
    if (ew_book_is_read_only(book))
      ew_say("note: this book can only be read: its disk is full, or the file or its folder is "
             "write-protected");
    return TRUE;
  }
  double speeds[EW_LEDGER_SPEEDS];
  for (int k = 0; k < EW_LEDGER_SPEEDS; k++)
    speeds[k] = 500 * k;
  struct ew_json json = ew_answer_begin();
  ew_json_text(&json, "book", ew_book_path(book));
  ew_json_text(&json, "zone", zone);
  ew_message_write_member(overdue, "calibration_overdue", call->units, &json);
  ew_json_text(&json, EW_SHEET_LANGUAGE, language && *language ? language : NULL);
  ew_json_boolean(&json, "read_only", ew_book_is_read_only(book));
  ew_json_open(&json, "ledger");
  ew_json_integer(&json, "recordings", ledger.recordings);
  ew_json_integer(&json, "pulls", ledger.pulls);
  ew_json_integer(&json, "heat_cycles", ledger.heat_cycles);
  ew_json_number(&json, "running_s", ledger.running_s);
  ew_json_number(&json, "highest_speed_rpm", ledger.highest_rpm);
  ew_json_numbers(&json, "above_speed_rpm", speeds, EW_LEDGER_SPEEDS);
  ew_json_numbers(&json, "seconds_above", ledger.above_s, EW_LEDGER_SPEEDS);
  ew_json_close(&json);
  if (!ew_idle_info(call, book, &json, error)) {
    g_string_free(json.text, TRUE);
    return FALSE;
  }
  ew_answer_end(&json);
  return TRUE;
}
const struct ew_command ew_command_book_info = {
    .name = "book info",
    .summary = EW_TEXT("What the book holds, and running hours from the stored raw data"),
    .takes = "",
    .options = book_options,
    .run = run_info,
    .examples = "book info\nbook info --engine \"hill-climb six\" --json"};

static void write_verified(const void *of, struct ew_json *json) {
  const struct ew_verified_recording *row = of;
  ew_json_integer(json, "id", row->id);
  ew_json_integer(json, "rows", row->rows);
}

static gboolean run_verify(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_verification v;
  if (!book)
    return FALSE;
  static const gint never;
  const struct ew_verify_watch watch = {.cancel = &never, .progress = ew_call_progress()};
  gboolean done = ew_book_verify(book, &watch, &v, error), whole = v.whole;
  if (done && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_boolean(&json, "whole", v.whole);
    ew_json_integer(&json, "curves", v.curves);
    ew_json_rows(&json, "recordings", v.rows, write_verified);
    ew_json_texts(&json, "problems", v.problems);
    ew_json_integer(&json, "earlier_curves", v.earlier);
    ew_json_number(&json, "earlier_most_relative", v.earlier_most);
    ew_json_integer(&json, "earlier_gone", v.gone);
    ew_json_integer(&json, "thinned_runs", v.thinned);
    ew_answer_end(&json);
  } else if (done) {
    for (guint i = 0; i < v.problems->len; i++)
      ew_say("%s", (char *)g_ptr_array_index(v.problems, i));
    ew_say(
        v.whole
            ? EW_TEXT("whole: recordings %d, curves %d: checked against their digests and computed "
                      "again")
            : EW_TEXT("NOT WHOLE: recordings %d, curves %d: checked against their digests and "
                      "computed again"),
        v.recordings, v.curves);
    if (v.thinned)
      ew_say("runs of idle samples that were thinned, each checked against its digest: %u",
             v.thinned);
    if (v.earlier)
      ew_say("curves of an earlier version: %d. They are kept as they were; this version's means "
             "differ by up to %.2f %%; 'enginewright book renew' computes them again",
             v.earlier, 100 * v.earlier_most);
    if (v.gone)
      ew_say("of these, %d that this version no longer takes for pulls: 'enginewright look' on an "
             "exported recording says why; 'book renew' leaves their curves as they are",
             v.gone);
  }
  ew_verification_clear(&v);
  if (!done)
    return FALSE;
  if (!whole)
    ew_answer_no(error, "the book is not whole: keep a copy of it as it is, and restore a backup");
  return whole;
}
const struct ew_command ew_command_book_verify = {
    .name = "book verify",
    .summary =
        EW_TEXT("Is the book whole? Checks digests, and computes curves again from raw data"),
    .takes = "",
    .options = whole_book_options,
    .run = run_verify,
    .examples = "book verify --json"};

static gboolean run_renew(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  int renewed, gone;
  static const gint never;
  const struct ew_verify_watch watch = {.cancel = &never, .progress = ew_call_progress()};
  if (!book || !ew_book_renew(book, &watch, &renewed, &gone, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "renewed", renewed);
    ew_json_integer(&json, "gone", gone);
    ew_answer_end(&json);
  } else {
    ew_say("computed again from raw data, each with its own method: %d", renewed);
    if (gone)
      ew_say("left as they are, because this version no longer takes them for pulls: %d", gone);
  }
  return TRUE;
}
const struct ew_command ew_command_book_renew = {
    .name = "book renew",
    .summary = EW_TEXT("Compute curves of earlier versions of this program again from raw data"),
    .takes = "",
    .options = whole_book_options,
    .run = run_renew,
    .examples = "book renew",
    .more = EW_TEXT(
        "Raw data, method, cell and engine stay as stored with each pull; the old and the new "
        "digest go into the book's log.\nDo not compare pulls of different versions before.")};
