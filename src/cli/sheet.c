/* sheet report, day, and the sheets of a build: what is asked for, and where it is written. */
#include "cli/command.h"
#include "desk/build_sheet.h"
#include "desk/day_sheet.h"
#include "desk/job_sheet.h"
#include "desk/report.h"
#include <stdlib.h>
#include <string.h>

static const char *path_of(const struct ew_call *call, const char *usual) {
  const char *path = ew_call_option(call, "out");
  return path ? path : usual;
}

static gboolean read_options(const struct ew_call *call, const char *path, gboolean html,
                             struct ew_sheet_options *sheet, GError **error) {
  const char *paper = ew_call_option(call, "paper");
  if (!ew_format_of(path, html, &sheet->format))
    return html ? ew_refuse(error, "--out '%s': the name must end with .pdf, .svg, .png or .html",
                            path)
                : ew_refuse(error, "--out '%s': the name must end with .pdf, .svg or .png", path);
  if (paper && strcmp(paper, "a4") && strcmp(paper, "letter"))
    return ew_refuse(error, "--paper '%s' is neither a4 nor letter", paper);
  sheet->paper = !paper ? -1 : strcmp(paper, "letter") == 0 ? EW_PAPER_LETTER : EW_PAPER_A4;
  sheet->units = ew_call_has(call, "units") ? (int)call->units : -1;
  sheet->title = ew_call_option(call, "title");
  sheet->language = ew_call_option(call, "language");
  sheet->path = path;
  return ew_call_place(path, error);
}

/* Makes one of the sheets at the desk of the call's book. */
typedef gboolean (*maker)(struct ew_desk *desk, gconstpointer options, GError **error);

static gboolean answer_sheet(const struct ew_call *call, maker make, gconstpointer options,
                             const char *path, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_desk desk = {0};
  if (!book || !ew_desk_open(&desk, book, error))
    return FALSE;
  gboolean good = make(&desk, options, error);
  ew_desk_clear(&desk);
  if (good && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "sheet", path);
    ew_answer_end(&json);
  } else if (good)
    ew_say("%s", path);
  return good;
}

/* ---- the test report ---- */

static const struct ew_option_spec report_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"out", EW_TEXT("FILE"), EW_TEXT("report.pdf, .svg, .png or .html (report.pdf)"), FALSE},
    {"title", EW_TEXT("TEXT"), EW_TEXT("title of the sheet"), FALSE},
    {"for", "customer|shop",
     EW_TEXT("customer: one page; shop: the same with everything behind it (customer)"), FALSE},
    {"columns", EW_TEXT("NAMES"),
     EW_TEXT("columns of the table: bmep, bsfc, ve, lambda, afr, fuel_flow, exhaust_temperature, "
             "oil_pressure, oil_temperature, coolant_temperature"),
     FALSE},
    {"standard", EW_TEXT("NAME"),
     EW_TEXT("another correction factor for this sheet alone ('air standards' lists them)"), FALSE},
    {"pulls", EW_TEXT("IDS"), EW_TEXT("1,2,3: which pulls (default: the last like ones)"), FALSE},
    {"engine", EW_TEXT("NAME"), EW_TEXT("which engine (default: the last)"), FALSE},
    {"despite", EW_TEXT("FACTS"),
     EW_TEXT("take the mean on purpose although the pulls differ in these: cell, set-up"), FALSE},
    {"paper", "a4|letter", EW_TEXT("paper"), FALSE},
    {"photos", EW_TEXT("IDS"),
     EW_TEXT("1,2: attached pictures to show, in .html ('book attached' lists them)"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean make_report(struct ew_desk *desk, gconstpointer options, GError **error) {
  return ew_make_report(desk, options, error);
}

static gboolean run_report(const struct ew_call *call, GError **error) {
  const char *path = path_of(call, "report.pdf");
  struct ew_report_options options = {.pulls = ew_call_option(call, "pulls"),
                                      .engine = ew_call_option(call, "engine"),
                                      .columns = ew_call_option(call, "columns"),
                                      .standard = ew_call_option(call, "standard"),
                                      .photos = ew_call_option(call, "photos")};
  const char *reader = ew_call_option(call, "for");
  if (reader && !ew_report_reader_find(reader, &options.reader))
    return ew_refuse(error, "--for '%s' is neither customer nor shop", reader);
  if (!read_options(call, path, TRUE, &options.sheet, error) ||
      !ew_call_despite(call, &options.despite, error))
    return FALSE;
  if (options.photos && options.sheet.format != EW_FORMAT_HTML)
    return ew_refuse(error, "--photos: only a report in .html holds photos");
  return answer_sheet(call, make_report, &options, path, error);
}
const struct ew_command ew_command_sheet_report = {
    .name = "sheet report",
    .summary = EW_TEXT("The test report: PDF, SVG or PNG, A4 or letter, or one HTML file to send"),
    .takes = "",
    .options = report_options,
    .run = run_report,
    .more = EW_TEXT(
        "For the customer it is one page: what was promised and proved, the curve, conditions, "
        "what "
        "was found, lines to sign on. --for shop puts all figures, cautions, changes, answers, "
        "amendments, the budget and the digests behind it. The HTML file is complete in itself, "
        "has no script and prints the same, with the pictures that --photos names."),
    .examples = EW_TEXT(
        "sheet report --out report.pdf\nsheet report --for shop --out report.html\nsheet report "
        "--pulls 33,34,35 --title \"Proof of "
        "engine HC6-004\" --units us --paper letter")};

/* ---- the day ---- */

static gboolean make_day(struct ew_desk *desk, gconstpointer options, GError **error) {
  return ew_make_day_sheet(desk, options, error);
}

static gboolean run_day(const struct ew_call *call, GError **error) {
  const char *path = path_of(call, "day.pdf");
  struct ew_day_sheet_options options = {.day = ew_call_option(call, "day")};
  return read_options(call, path, FALSE, &options.sheet, error) &&
         answer_sheet(call, make_day, &options, path, error);
}
static const struct ew_option_spec day_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"day", EW_TEXT("DATE"), EW_TEXT("2026-11-25 (default: the day of the last pull)"), FALSE},
    {"out", EW_TEXT("FILE"), EW_TEXT("sheet.pdf, .svg or .png (default: day.pdf)"), FALSE},
    {"title", EW_TEXT("TEXT"), EW_TEXT("title of the sheet"), FALSE},
    {"paper", "a4|letter", EW_TEXT("paper"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_sheet_day = {
    .name = "sheet day",
    .summary =
        EW_TEXT("A test day on paper: its pulls in order, what was changed, notes, marks, answers"),
    .takes = "",
    .options = day_options,
    .run = run_day,
    .examples = "sheet day --out day.pdf"};

/* ---- of a build ---- */

static const struct ew_option_spec sheet_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"engine", EW_TEXT("NAME"), EW_TEXT("which engine (default: the one in the cell)"), FALSE},
    {"out", EW_TEXT("FILE"), EW_TEXT("sheet.pdf, .svg or .png (default: NAME.pdf)"), FALSE},
    {"title", EW_TEXT("TEXT"), EW_TEXT("title of the sheet"), FALSE},
    {"paper", "a4|letter", EW_TEXT("paper"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean make_of_build(struct ew_desk *desk, gconstpointer options, GError **error) {
  return ew_make_build_sheet(desk, options, error);
}

static gboolean run_sheet(const struct ew_call *call, enum ew_build_sheet_kind kind,
                          GError **error) {
  g_autofree char *usual = g_strdup_printf("%s.pdf", strchr(call->command->name, ' ') + 1);
  const char *path = path_of(call, usual);
  struct ew_build_sheet_options options = {.kind = kind, .engine = ew_call_option(call, "engine")};
  return read_options(call, path, FALSE, &options.sheet, error) &&
         answer_sheet(call, make_of_build, &options, path, error);
}

#define X(id, title, about)                                                                        \
  static gboolean run_##id(const struct ew_call *call, GError **error) {                           \
    return run_sheet(call, EW_SHEET_##id, error);                                                  \
  }                                                                                                \
  const struct ew_command ew_command_sheet_##id = {.name = "sheet " #id,                           \
                                                   .summary = about,                               \
                                                   .takes = "",                                    \
                                                   .options = sheet_options,                       \
                                                   .run = run_##id,                                \
                                                   .examples = "sheet " #id " --out " #id ".pdf"};
EW_BUILD_SHEETS(X)
#undef X

/* ---- of a job ---- */

static gboolean make_of_job(struct ew_desk *desk, gconstpointer options, GError **error) {
  return ew_make_job_sheet(desk, options, error);
}

static gboolean run_job(const struct ew_call *call, enum ew_job_sheet_kind kind, const char *usual,
                        GError **error) {
  const char *path = path_of(call, usual), *quote = ew_call_option(call, "quote");
  struct ew_job_sheet_options options = {.kind = kind, .job = ew_call_argument(call, 0)};
  if (quote && (strlen(quote) > 6 || !*quote || quote[strspn(quote, "0123456789")] ||
                (options.quote = atoi(quote)) < 1))
    return ew_refuse(error, "--quote '%.40s' is not the number of a quote, from 1", quote);
  return read_options(call, path, TRUE, &options.sheet, error) &&
         answer_sheet(call, make_of_job, &options, path, error);
}

static gboolean run_quote(const struct ew_call *call, GError **error) {
  return run_job(call, EW_JOB_SHEET_QUOTE, "quote.pdf", error);
}
static const struct ew_option_spec quote_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"quote", "N", EW_TEXT("which quote (default: the agreed one, else the newest)"), FALSE},
    {"out", EW_TEXT("FILE"), EW_TEXT("sheet.pdf, .svg, .png or .html (default: NAME.pdf)"), FALSE},
    {"title", EW_TEXT("TEXT"), EW_TEXT("title of the sheet"), FALSE},
    {"paper", "a4|letter", EW_TEXT("paper"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_sheet_quote = {
    .name = "sheet quote",
    .summary = EW_TEXT("A job's quote for the customer, with its changes and lines to sign"),
    .takes = EW_TEXT("JOB"),
    .least = 1,
    .most = 1,
    .options = quote_options,
    .run = run_quote,
    .examples = "sheet quote \"summer six\" --out quote.pdf"};

static gboolean run_orders(const struct ew_call *call, GError **error) {
  return run_job(call, EW_JOB_SHEET_ORDERS, "orders.pdf", error);
}
static const struct ew_option_spec orders_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"out", EW_TEXT("FILE"), EW_TEXT("sheet.pdf, .svg, .png or .html (default: NAME.pdf)"), FALSE},
    {"title", EW_TEXT("TEXT"), EW_TEXT("title of the sheet"), FALSE},
    {"paper", "a4|letter", EW_TEXT("paper"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_sheet_orders = {
    .name = "sheet orders",
    .summary = EW_TEXT("A job's orders by supplier's number: what has come, what is late"),
    .takes = EW_TEXT("JOB"),
    .least = 1,
    .most = 1,
    .options = orders_options,
    .run = run_orders,
    .examples = "sheet orders \"summer six\" --out orders.pdf"};
