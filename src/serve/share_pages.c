/* The pages of a customer's link. Every text of the book is escaped; a picture is shown only when its frame was walked (book/media.h). What
 * takes time is made in a folder of its own, read back, and kept until the book changes but for the rows of a recording
 * under way. */
#include "serve/share_pages.h"
#include "base/error.h"
#include "base/language.h"
#include "base/number.h"
#include "base/words.h"
#include "book/attachment.h"
#include "book/change.h"
#include "book/media.h"
#include "book/store.h"
#include "book/stream.h"
#include "desk/build_sheet.h"
#include "desk/question.h"
#include "desk/report.h"
#include "serve/share_now.h"
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

#define KEPT_MOST 40
#define PULLS     8 /* the last ones that count */

/* The report's own file: no script runs in it, and it frames nothing. */
#define REPORT_POLICY                                                                              \
  "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox; frame-ancestors 'none'"

static const char look[] =
    "body{font:17px/1.5 system-ui,sans-serif;max-width:46rem;margin:0 "
    "auto;padding:1.5rem;color:#1a1a1a;"
    "background:#fff}h1{font-size:1.5rem;margin:0}h2{font-size:1.1rem;margin:2rem 0 .5rem}"
    "a{color:#0b57a4}ul{padding-left:1.2rem}li{margin:.4rem 0}figure{margin:0 0 1.5rem}"
    "img{max-width:100%;height:auto}figcaption,.quiet{color:#555}table{border-collapse:collapse}"
    "td,th{text-align:left;padding:.3rem 1.2rem .3rem 0;border-bottom:1px solid #ddd}"
    "@media(prefers-color-scheme:dark){body{background:#16181a;color:#eee}a{color:#8ec5ff}"
    "figcaption,.quiet{color:#aaa}td,th{border-color:#444}}";

/* Asks again while the page is looked at; silence is said, not hidden. */
static const char script[] =
    "'use strict';const box=document.getElementById('figures');async function again(){try{"
    "const r=await fetch('figures',{cache:'no-store'});if(!r.ok)throw r.status;"
    "const d=await r.json();box.replaceChildren();for(const p of d.pulls){"
    "const row=box.insertRow();for(const t "
    "of[p.at,p.power,p.torque])row.insertCell().textContent=t}"
    "document.getElementById('state').textContent=now?'':d.state}"
    "catch(e){document.getElementById('state').textContent=box.dataset.lost}"
    "setTimeout(again,document.hidden?30000:3000)}again();"
    "const now=document.getElementById('now'),line=document.getElementById('now-state');"
    "async function look(){try{const r=await fetch('now',{cache:'no-store'});if(!r.ok)throw "
    "r.status;"
    "const d=await r.json();now.replaceChildren();for(const c of d.rows){const "
    "row=now.insertRow();"
    "row.insertCell().textContent=c.name;row.insertCell().textContent=c.value}"
    "line.textContent=d.state}"
    "catch(e){now.replaceChildren();line.textContent=box.dataset.lost}"
    "setTimeout(look,document.hidden?30000:1000)}if(now)look();";

static const struct {
  const char *name;
  gboolean slow;
} pages[] = {
#define X(id, name, slow) {name, slow},
    EW_SHARE_PAGES(X)
#undef X
};

gboolean ew_share_split(const char *path, char token[65], enum ew_share_page *page, gint64 *photo) {
  *photo = 0;
  if (path[0] != '/' || strlen(path) < 66 || path[65] != '/')
    return FALSE;
  memcpy(token, path + 1, 64);
  token[64] = 0;
  const char *rest = path + 66;
  gsize head = strlen(pages[EW_SHARE_PHOTO].name);
  if (strncmp(rest, pages[EW_SHARE_PHOTO].name, head) == 0) {
    guint64 number;
    *page = EW_SHARE_PHOTO;
    if (!g_ascii_string_to_unsigned(rest + head, 10, 1, G_MAXINT32, &number, NULL))
      return FALSE;
    *photo = (gint64)number;
    return TRUE;
  }
  for (int i = 0; i < EW_SHARE_PHOTO; i++)
    if (strcmp(rest, pages[i].name) == 0) {
      *page = (enum ew_share_page)i;
      return TRUE;
    }
  return FALSE;
}

gboolean ew_share_is_slow(enum ew_share_page page) {
  return pages[page].slow;
}

/* ---- what is kept ---- */

struct kept {
  char *digest;
  GBytes *bytes;
};
struct ew_share_kept {
  GHashTable *all; /* char* -> struct kept* */
};

static void kept_free(gpointer data) {
  struct kept *k = data;
  g_free(k->digest);
  g_bytes_unref(k->bytes);
  g_free(k);
}

struct ew_share_kept *ew_share_kept_new(void) {
  struct ew_share_kept *kept = g_new0(struct ew_share_kept, 1);
  kept->all = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, kept_free);
  return kept;
}

void ew_share_kept_free(struct ew_share_kept *kept) {
  g_hash_table_unref(kept->all);
  g_free(kept);
}

static void keep(struct ew_share_kept *kept, const char *key, const char *digest, GBytes *bytes) {
  if (g_hash_table_size(kept->all) >= KEPT_MOST && !g_hash_table_contains(kept->all, key))
    g_hash_table_remove_all(kept->all);
  struct kept *one = g_new(struct kept, 1);
  *one = (struct kept){g_strdup(digest), g_bytes_ref(bytes)};
  g_hash_table_insert(kept->all, g_strdup(key), one);
  g_assert(g_hash_table_size(kept->all) <= KEPT_MOST);
}

/* ---- the parts ---- */

static char *engine_of(const struct ew_share *share) {
  return g_strdup_printf("%" G_GINT64_FORMAT, share->engine);
}

static gboolean is_ticked(const struct ew_share *share, gint64 photo) {
  g_auto(GStrv) ids = g_strsplit(share->photos, ",", -1);
  for (char **id = ids; *id; id++)
    if (**id && g_ascii_strtoll(*id, NULL, 10) == photo)
      return TRUE;
  return FALSE;
}

/* Those that stand, of what the shop ticked; *list "3,4", NULL: none. */
static gboolean photos_now(struct ew_book *book, const struct ew_share *share, GArray **rows,
                           char **list, GError **error) {
  *rows = ew_attachment_list(book, NULL, FALSE, error);
  GString *ids = g_string_new(NULL);
  for (guint i = *rows ? (*rows)->len : 0; i-- > 0;) {
    const struct ew_attachment_row *row = &g_array_index(*rows, struct ew_attachment_row, i);
    if (is_ticked(share, row->id))
      g_string_append_printf(ids, "%s%" G_GINT64_FORMAT, ids->len ? "," : "", row->id);
    else
      g_array_remove_index(*rows, i);
  }
  *list = g_string_free(ids, FALSE);
  return *rows != NULL;
}

static void empty_folder(const char *folder) {
  g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
  for (const char *name; dir && (name = g_dir_read_name(dir));) {
    g_autofree char *path = g_build_filename(folder, name, NULL);
    g_unlink(path);
  }
  g_rmdir(folder);
}

static gboolean draw(struct ew_book *book, const struct ew_share *share, enum ew_share_page page,
                     const char *path, GError **error) {
  struct ew_desk desk = {0};
  g_autofree char *engine = engine_of(share), *photos = NULL;
  g_autoptr(GArray) rows = NULL;
  gboolean good =
      ew_desk_open(&desk, book, error) && photos_now(book, share, &rows, &photos, error);
  enum ew_format format = page == EW_SHARE_REPORT ? EW_FORMAT_HTML : EW_FORMAT_PDF;
  const struct ew_sheet_options sheet = {NULL, path, format, -1, -1, NULL};
  if (good && page == EW_SHARE_CARE_PDF) {
    struct ew_build_sheet_options o = {.sheet = sheet, .kind = EW_SHEET_care, .engine = engine};
    good = ew_make_build_sheet(&desk, &o, error);
  } else if (good) {
    struct ew_report_options o = {.sheet = sheet,
                                  .engine = engine,
                                  .reader = EW_REPORT_CUSTOMER,
                                  .photos = page == EW_SHARE_REPORT && *photos ? photos : NULL};
    good = ew_make_report(&desk, &o, error);
  }
  ew_desk_clear(&desk);
  return good;
}

static GBytes *sheet_of(struct ew_book *book, const struct ew_share *share, enum ew_share_page page,
                        GError **error) {
  g_autoptr(GError) problem = NULL;
  g_autofree char *folder = g_dir_make_tmp("enginewright-XXXXXX", &problem);
  if (!folder) {
    ew_fail(error, "%s", problem->message);
    return NULL;
  }
  g_autofree char *path =
      g_build_filename(folder, page == EW_SHARE_REPORT ? "sheet.html" : "sheet.pdf", NULL);
  char *data = NULL;
  gsize size = 0;
  gboolean good =
      draw(book, share, page, path, error) &&
      (g_file_get_contents(path, &data, &size, &problem) || ew_fail(error, "%s", problem->message));
  empty_folder(folder);
  return good ? g_bytes_new_take(data, size) : NULL;
}

/* ---- figures of the last pulls ---- */

static char *shown(enum ew_kind kind, enum ew_unit_system units, double value, double relative,
                   double speed_rpm) {
  double figure = ew_shown(kind, units, value);
  g_autofree char *number = ew_number_with_uncertainty(figure, figure * relative);
  return ew_words("%s %s at %#.0f rpm", number, ew_kind_shown(kind, units), speed_rpm);
}

static void write_pull(const struct ew_desk *desk, const struct ew_loaded *l,
                       struct ew_spread repeat, enum ew_unit_system units, GTimeZone *zone,
                       struct ew_json *json) {
  const struct ew_curve *c = l->curve;
  gsize t = ew_curve_peak(c, c->torque_n_m), p = ew_curve_peak(c, c->power_w);
  struct ew_budget b =
      ew_budget(&desk->bench, l->calibration, c, c->torque_n_m[t], c->inertia_n_m[t],
                c->torque_se_n_m[t], repeat, EW_HOURS_SINCE_ZERO);
  double relative = b.expanded_n_m / c->torque_n_m[t];
  g_autofree char *at = ew_zone_show(zone, l->row.at);
  g_autofree char *torque =
      shown(EW_KIND_TORQUE, units, c->torque_n_m[t], relative, c->speed_rpm[t]);
  g_autofree char *power = shown(EW_KIND_POWER, units, c->power_w[p], relative, c->speed_rpm[p]);
  ew_json_open(json, NULL);
  ew_json_text(json, "at", at);
  ew_json_text(json, "power", power);
  ew_json_text(json, "torque", torque);
  ew_json_close(json);
}

static gboolean runs_now(struct ew_book *book, gint64 engine, gboolean *runs, GError **error) {
  g_autoptr(GArray) open = ew_stream_unfinished(book, error);
  *runs = FALSE;
  for (guint i = 0; open && i < open->len && !*runs; i++) {
    struct ew_recording_row row;
    gint64 id = g_array_index(open, struct ew_stream_row, i).id;
    if (!ew_recording_facts(book, id, &row, error))
      return FALSE;
    *runs = row.engine_id == engine;
    ew_recording_row_clear(&row);
  }
  return open != NULL;
}

static gboolean write_pulls(struct ew_book *book, const struct ew_share *share,
                            struct ew_json *json, GError **error) {
  struct ew_desk desk = {0};
  g_autofree char *units_text = NULL;
  g_autoptr(GArray) rows = ew_pull_list(book, share->engine, error);
  g_autoptr(GTimeZone) zone = NULL;
  if (!rows || !ew_desk_open(&desk, book, error) ||
      !ew_setting_get(book, "units", &units_text, error) || !(zone = ew_book_zone(book, error))) {
    ew_desk_clear(&desk);
    return FALSE;
  }
  g_time_zone_ref(zone);
  enum ew_unit_system units = g_strcmp0(units_text, "us") == 0 ? EW_UNITS_US : EW_UNITS_SI;
  struct ew_learned learned = ew_desk_history(&desk, 0, NULL);
  gboolean good = TRUE;
  ew_json_open_array(json, "pulls");
  for (guint i = rows->len, shown_pulls = 0; good && i-- > 0 && shown_pulls < PULLS;) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (!ew_pull_counts(row) || row->invented)
      continue;
    struct ew_loaded *l = ew_desk_load_id(&desk, row->id, error);
    good = l != NULL;
    if (l && l->curve->points > 0)
      write_pull(&desk, l, learned.levels[EW_LEVEL_CONSECUTIVE], units, zone, json);
    shown_pulls++;
    ew_loaded_free(l);
  }
  ew_json_close_array(json);
  ew_desk_clear(&desk);
  return good;
}

static GBytes *figures_of(struct ew_book *book, const struct ew_share *share, GError **error) {
  struct ew_json json = {.text = g_string_new(NULL)};
  gboolean runs;
  ew_json_open(&json, NULL);
  gboolean good =
      runs_now(book, share->engine, &runs, error) && write_pulls(book, share, &json, error);
  if (good)
    ew_json_text(&json, "state",
                 runs ? ew_tr(EW_TEXT("A recording of this engine is under way."))
                      : ew_tr(EW_TEXT("No recording of this engine is under way.")));
  ew_json_close(&json);
  GBytes *bytes = g_string_free_to_bytes(json.text);
  if (!good)
    g_clear_pointer(&bytes, g_bytes_unref);
  return bytes;
}

/* ---- the page ---- */

static void add_escaped(GString *html, const char *format, ...) G_GNUC_PRINTF(2, 3);
static void add_escaped(GString *html, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *text = g_markup_vprintf_escaped(format, arguments);
  va_end(arguments);
  g_string_append(html, text);
}

static void add_now(GString *html) {
  add_escaped(html,
              "<h2>%s</h2><p class=\"quiet\" id=\"now-state\" role=\"status\">&#160;</p>"
              "<table><tbody id=\"now\"></tbody></table>",
              ew_tr(EW_TEXT("Now")));
}

static void add_figures(GString *html) {
  add_escaped(html,
              "<h2>%s</h2><p class=\"quiet\" id=\"state\" role=\"status\">&#160;</p>"
              "<table><thead><tr><th>%s</th><th>%s</th><th>%s</th></tr></thead>"
              "<tbody id=\"figures\" data-lost=\"%s\"></tbody></table><p class=\"quiet\">%s</p>"
              "<script src=\"figures.js\"></script>",
              ew_tr(EW_TEXT("The last pulls")), ew_tr(EW_TEXT("When")),
              ew_tr(EW_TEXT("Best power")), ew_tr(EW_TEXT("Best torque")),
              ew_tr(EW_TEXT("The shop does not answer at the moment.")),
              ew_tr(EW_TEXT("Corrected figures of single pulls, ± at 95 %. What counts in the end "
                            "is the report.")));
}

static void add_photos(GString *html, const GArray *rows) {
  if (rows->len)
    add_escaped(html, "<h2>%s</h2>", ew_tr(EW_TEXT("Photos")));
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_attachment_row *row = &g_array_index(rows, struct ew_attachment_row, i);
    const char *says = row->note && *row->note ? row->note : row->name;
    add_escaped(html,
                "<figure><img src=\"photo/%d\" alt=\"%s\" loading=\"lazy\"><figcaption>%s"
                "</figcaption></figure>",
                (int)row->id, says, says);
  }
}

static GBytes *index_of(struct ew_book *book, const struct ew_share *share, GError **error) {
  g_autofree char *shop = NULL, *list = NULL, *until = NULL;
  g_autoptr(GArray) rows = NULL;
  GTimeZone *zone = ew_book_zone(book, error);
  if (!zone || !ew_setting_get(book, "shop", &shop, error) ||
      !photos_now(book, share, &rows, &list, error))
    return NULL;
  until = ew_zone_show(zone, share->until);
  GString *html = g_string_new("<!doctype html>");
  add_escaped(html,
              "<html lang=\"%s\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
              "content=\"width=device-width,initial-scale=1\"><meta name=\"robots\" "
              "content=\"noindex\"><title>%s</title><link rel=\"stylesheet\" href=\"look.css\">"
              "</head><body><p class=\"quiet\">%s</p><h1>%s</h1>",
              ew_language_code(ew_language_now()), share->name, shop ? shop : "", share->name);
  add_escaped(html,
              "<ul><li><a href=\"report\">%s</a></li><li><a href=\"report.pdf\">%s</a></li><li><a "
              "href=\"care.pdf\">%s</a></li></ul>",
              ew_tr(EW_TEXT("Test report: what was agreed, and what was proved")),
              ew_tr(EW_TEXT("The same on paper (PDF)")),
              ew_tr(EW_TEXT("Care sheet: oil, valve lash, what to do after the first hour (PDF)")));
  if (share->live && *share->channels)
    add_now(html);
  if (share->live)
    add_figures(html);
  add_photos(html, rows);
  g_autofree char *ends = ew_words("This link works until %s.", until);
  add_escaped(html, "<p class=\"quiet\">%s</p></body></html>", ends);
  return g_string_free_to_bytes(html);
}

/* ---- one answer ---- */

static const char *shown_type(const char *media) {
  static const char *const types[] = {"image/jpeg", "image/png", "image/webp"};
  for (gsize i = 0; i < G_N_ELEMENTS(types); i++)
    if (strcmp(media, types[i]) == 0)
      return types[i];
  return NULL;
}

static gboolean answer_photo(struct ew_book *book, const struct ew_share *share, gint64 photo,
                             struct ew_reply *reply, GError **error) {
  struct ew_attachment_row row;
  if (!is_ticked(share, photo) || !ew_attachment_get(book, photo, &row, error))
    return FALSE;
  gboolean stands = !row.withdrawn;
  ew_attachment_row_clear(&row);
  g_autoptr(GBytes) bytes = stands ? ew_attachment_bytes(book, photo, error) : NULL;
  gsize size;
  const char *type =
      bytes ? shown_type(ew_media_of(g_bytes_get_data(bytes, &size), g_bytes_get_size(bytes)))
            : NULL;
  if (!type)
    return FALSE;
  reply->bytes = g_steal_pointer(&bytes);
  reply->type = type;
  reply->inert = TRUE;
  return TRUE;
}

static gboolean answer_kept(struct ew_book *book, const struct ew_share *share,
                            enum ew_share_page page, struct ew_share_kept *kept,
                            struct ew_reply *reply, GError **error) {
  g_autofree char *digest = ew_book_change_but_blocks(book);
  g_autofree char *key = g_strdup_printf("%s %s %s", share->hash, pages[page].name,
                                         ew_language_code(ew_language_now()));
  const struct kept *there = digest ? g_hash_table_lookup(kept->all, key) : NULL;
  if (there && strcmp(there->digest, digest) == 0) {
    reply->bytes = g_bytes_ref(there->bytes);
    return TRUE;
  }
  reply->bytes = page == EW_SHARE_FIGURES ? figures_of(book, share, error)
                                          : sheet_of(book, share, page, error);
  if (reply->bytes && digest)
    keep(kept, key, digest, reply->bytes);
  return reply->bytes != NULL;
}

/* Two hundred who look at one link cost one look at the book a second. */
static gboolean answer_now(struct ew_book *book, const struct ew_share *share,
                           struct ew_share_kept *kept, struct ew_reply *reply, GError **error) {
  g_autofree char *second = g_strdup_printf("%" G_GINT64_FORMAT, g_get_monotonic_time() / 1000000);
  g_autofree char *key = g_strdup_printf("%s %s %s", share->hash, pages[EW_SHARE_NOW].name,
                                         ew_language_code(ew_language_now()));
  const struct kept *there = g_hash_table_lookup(kept->all, key);
  if (there && strcmp(there->digest, second) == 0) {
    reply->bytes = g_bytes_ref(there->bytes);
    return TRUE;
  }
  reply->bytes = ew_share_now(book, share, error);
  if (reply->bytes)
    keep(kept, key, second, reply->bytes);
  return reply->bytes != NULL;
}

static gboolean answer_text(const char *type, const char *text, struct ew_reply *reply) {
  reply->type = type;
  reply->bytes = g_bytes_new_static(text, strlen(text));
  return TRUE;
}

gboolean ew_share_answer(struct ew_book *book, const struct ew_share *share,
                         enum ew_share_page page, gint64 photo, struct ew_share_kept *kept,
                         struct ew_reply *reply, GError **error) {
  switch (page) {
  case EW_SHARE_INDEX:
    reply->type = "text/html; charset=utf-8";
    return (reply->bytes = index_of(book, share, error)) != NULL;
  case EW_SHARE_LOOK: return answer_text("text/css; charset=utf-8", look, reply);
  case EW_SHARE_SCRIPT:
    return share->live && answer_text("text/javascript; charset=utf-8", script, reply);
  case EW_SHARE_FIGURES: return share->live && answer_kept(book, share, page, kept, reply, error);
  case EW_SHARE_NOW:
    return share->live && *share->channels && answer_now(book, share, kept, reply, error);
  case EW_SHARE_REPORT:
    reply->type = "text/html; charset=utf-8";
    reply->policy = REPORT_POLICY;
    return answer_kept(book, share, page, kept, reply, error);
  case EW_SHARE_REPORT_PDF:
  case EW_SHARE_CARE_PDF:
    reply->type = "application/pdf";
    reply->download = g_strdup(pages[page].name);
    return answer_kept(book, share, page, kept, reply, error);
  case EW_SHARE_PHOTO: return answer_photo(book, share, photo, reply, error);
  case EW_SHARE_PAGES_COUNT: break;
  }
  g_assert_not_reached();
}
