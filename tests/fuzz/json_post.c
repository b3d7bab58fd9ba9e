/* Any body to every address that takes one, against a book with a day's work in it, as the server's threads would ask it: never a
 * crash, and never an internal failure (500) whatever was sent. What was stored is read again by an address that shows it, and the book
 * is whole afterwards. Input: "POST /api/v1/notes?a=b", a line end, the body. The mutator works on the tree of the JSON. */
#include "sample_book.h"
#include "book/verify.h"
#include "serve/devices.h"
#include "serve/here.h"
#include "serve/live.h"
#include "serve/predictor.h"
#include "serve/serve.h"
#include "serve/service.h"
#include "serve/sources.h"
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TOGETHER 200 /* inputs into one book, before it is verified and made anew */

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);
size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned seed);
size_t LLVMFuzzerMutate(uint8_t *data, size_t size, size_t most);

struct address {
  const char *verb, *pattern;
};
static const struct address takes[] = {
#define X(verb, pattern, id, writes, pace) {#verb, pattern},
    EW_ROUTES(X)
#undef X
};

static const struct ew_serve_options options; /* nothing is sent to a shop */
static struct ew_service service = {.options = &options};
static guint inputs;

static void begin(void) {
  const struct ew_sample *sample = ew_sample_book();
  g_autoptr(GError) error = NULL;
  ew_sample_put(sample, sample->image);
  service.book = ew_book_open(sample->path, FALSE, &error);
  if (!service.book)
    g_error("%s", error->message);
  if (!service.devices) {
    service.identity = ew_book_identity(service.book, NULL);
    service.devices = ew_devices_new(service.identity);
    service.here = ew_here_new();
    service.sources = ew_sources_new(NULL);
    service.practice = "begin: 2026-06-12T07:40:00Z\n";
    service.lan = TRUE;
    service.addresses = g_ptr_array_new_with_free_func(g_free);
  }
  service.live = ew_live_new(sample->path, NULL);
  service.predictor = ew_predictor_new(NULL);
}

static void end(void) {
  struct ew_verification v;
  ew_live_free(service.live);
  ew_predictor_free(service.predictor);
  if (!ew_book_verify(service.book, NULL, &v, NULL) || !v.whole)
    g_error("the book is not whole: %s",
            v.problems && v.problems->len ? (char *)v.problems->pdata[0] : "");
  ew_verification_clear(&v);
  ew_book_close(service.book);
  service.book = NULL;
  g_clear_pointer(&service.learned_from, g_free);
  memset(&service.learned, 0, sizeof service.learned);
  memset(&service.learned_at, 0, sizeof service.learned_at);
}

/* FALSE: no such address. Sets whether the book was changed and a job begun. */
static gboolean ask(const char *verb, const char *target, GBytes *body, gboolean *changed,
                    gboolean *job) {
  struct ew_request *r = g_new0(struct ew_request, 1);
  struct ew_reply reply = {0};
  gint64 id;
  gboolean known, good;
  r->verb = g_strdup(verb);
  good = ew_target_parse(target, &r->path, &r->query, NULL);
  good = good && ew_route_find(verb, r->path, &id, &known) != NULL;
  if (good) {
    gboolean file =
        strcmp(r->path, "/api/v1/recordings") == 0 || strcmp(r->path, "/api/v1/attachments") == 0;
    r->content_type = g_strdup(file ? "application/octet-stream" : "application/json");
    r->may_write = r->may_send = r->paired = TRUE;
    r->body = g_bytes_ref(body);
    ew_service_answer(&service, r, &reply);
    if (reply.status == 500)
      g_error("%s %s: %s", verb, target, reply.json.text ? reply.json.text->str : "");
    *changed = reply.changed;
    *job = reply.json.text && strstr(reply.json.text->str, "\"job\":");
    ew_reply_clear(&reply);
  }
  ew_request_free(r);
  return good;
}

/* One of the addresses that show what is kept, by turns. */
static void show(guint turn) {
  const struct address *a;
  do
    a = &takes[turn++ % G_N_ELEMENTS(takes)];
  while (strcmp(a->verb, "GET") != 0);
  const char *brace = strstr(a->pattern, "{id}");
  g_autofree char *target =
      brace ? g_strdup_printf("%.*s1%s", (int)(brace - a->pattern), a->pattern, brace + 4)
            : g_strdup(a->pattern);
  g_autoptr(GBytes) nothing = g_bytes_new_static("", 0);
  gboolean changed, job;
  ask("GET", target, nothing, &changed, &job);
}

static void settle(gboolean job) {
  if (ew_live_running(service.live)) {
    ew_live_free(service.live);
    service.live = ew_live_new(ew_sample_book()->path, NULL);
  }
  if (job) { /* how it began is what is asked here; the answer is the business of the target "prediction" */
    ew_predictor_free(service.predictor);
    service.predictor = ew_predictor_new(NULL);
  }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  const uint8_t *line_end = memchr(data, '\n', size);
  if (!line_end || line_end - data > 1000)
    return -1;
  g_autofree char *head = g_strndup((const char *)data, (gsize)(line_end - data));
  char *target = strchr(head, ' ');
  if (!target || (!g_str_has_prefix(head, "POST ") && !g_str_has_prefix(head, "PUT ")))
    return -1;
  *target++ = 0;
  if (!service.book) {
    begin();
    /* an address that needs more than this service has falls over at once, not at its turn */
    for (guint i = 0; inputs == 0 && i < G_N_ELEMENTS(takes); i++)
      if (g_str_equal(takes[i].verb, "GET"))
        show(i);
  }
  g_autoptr(GBytes) body = g_bytes_new(line_end + 1, size - (gsize)(line_end + 1 - data));
  gboolean changed = FALSE, job = FALSE;
  if (!ask(head, target, body, &changed, &job))
    return -1;
  settle(job);
  if (changed)
    show(inputs);
  if (++inputs % TOGETHER == 0)
    end();
  return 0;
}

/* ---- the mutator ---- */

static unsigned state;
static unsigned roll(unsigned below) {
  state = state * 1664525u + 1013904223u;
  return (state >> 8) % below;
}

static const char *const words[] = {"",
                                    "yes",
                                    "no",
                                    "0",
                                    "-1",
                                    "nan",
                                    "inf",
                                    "1e308",
                                    "-1e308 m",
                                    "1e-320",
                                    "1 %",
                                    "26 deg",
                                    "6000 rpm",
                                    "0.88",
                                    "2026-03-01",
                                    "2026-02-30T25:61:61Z",
                                    "1,2,3",
                                    "[1, 2]",
                                    "{a: b}",
                                    "\xc3\xa9\xe2\x82\xac",
                                    "a\nb",
                                    "#",
                                    "4 exhaust",
                                    "+5 %",
                                    "500 mm",
                                    "-0",
                                    "9223372036854775807",
                                    "1e400",
                                    "12.9 AFR",
                                    "300 kPa"};

static json_t *anything(void) {
  static const double figures[] = {0,      -0.0, 1,   -1,    0.5,   1e308, -1e308,
                                   5e-324, 4096, 3e9, 1e-30, 2.5e5, 300};
  switch (roll(7)) {
  case 0: return json_real(figures[roll(G_N_ELEMENTS(figures))]);
  case 1: return json_integer((json_int_t)roll(5) - 1);
  case 2: return json_integer(roll(2) ? G_MAXINT64 : G_MININT64);
  case 3: return json_pack("[i, i]", (int)roll(5), (int)roll(5));
  case 4: return roll(2) ? json_object() : json_array();
  case 5: return roll(2) ? json_null() : json_boolean(roll(2));
  default: return json_string(words[roll(G_N_ELEMENTS(words))]);
  }
}

static json_t *mutated_text(const char *text) {
  char buffer[256];
  size_t size = g_strlcpy(buffer, text, sizeof buffer - 1);
  size = LLVMFuzzerMutate((uint8_t *)buffer, MIN(size, sizeof buffer - 2), sizeof buffer - 1);
  json_t *changed = json_stringn(buffer, size);
  return changed ? changed : anything();
}

static json_t *changed_of(json_t *old) {
  if (json_is_string(old) && roll(2))
    return mutated_text(json_string_value(old));
  if (json_is_number(old) && roll(2))
    return json_real(json_number_value(old) * (roll(2) ? 1e3 : -1));
  return roll(8) ? anything() : json_pack("[O, O]", old, old);
}

/* One member or item somewhere below; which by chance. */
static void change_tree(json_t *at) {
  size_t count = json_is_object(at) ? json_object_size(at) : json_array_size(at);
  if (count == 0) {
    if (json_is_object(at))
      json_object_set_new(at, words[roll(G_N_ELEMENTS(words))], anything());
    else
      json_array_append_new(at, anything());
    return;
  }
  size_t which = roll((unsigned)count);
  void *member = json_is_object(at) ? json_object_iter(at) : NULL;
  for (size_t i = 0; member && i < which; i++)
    member = json_object_iter_next(at, member);
  json_t *one = member ? json_object_iter_value(member) : json_array_get(at, which);
  if ((json_is_object(one) || json_is_array(one)) && roll(4)) {
    change_tree(one);
    return;
  }
  g_autofree char *key = member ? g_strdup(json_object_iter_key(member)) : NULL;
  if (roll(6) == 0) {
    if (key)
      json_object_del(at, key);
    else
      json_array_remove(at, which);
  } else if (key)
    json_object_set_new(at, key, changed_of(one));
  else if (roll(3) == 0)
    json_array_append_new(at, changed_of(one));
  else
    json_array_set_new(at, which, changed_of(one));
}

static char *changed_body(const char *body, gsize size) {
  json_t *tree = json_loadb(body, size, JSON_DECODE_ANY, NULL);
  if (!tree || !(json_is_object(tree) || json_is_array(tree))) {
    json_decref(tree);
    return NULL;
  }
  for (unsigned i = roll(3); i != (unsigned)-1; i--)
    change_tree(tree);
  char *text = json_dumps(tree, JSON_COMPACT);
  json_decref(tree);
  return text;
}

static char *any_head(void) {
  const struct address *a;
  do
    a = &takes[roll(G_N_ELEMENTS(takes))];
  while (strcmp(a->verb, "GET") == 0);
  const char *brace = strstr(a->pattern, "{id}");
  if (!brace)
    return g_strdup_printf("%s %s", a->verb, a->pattern);
  return g_strdup_printf("%s %.*s%u%s", a->verb, (int)(brace - a->pattern), a->pattern, roll(6),
                         brace + 4);
}

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned seed) {
  state = seed;
  const uint8_t *line_end = memchr(data, '\n', size);
  if (!line_end || roll(20) == 0)
    return LLVMFuzzerMutate(data, size, most);
  size_t begins = (size_t)(line_end + 1 - data);
  g_autofree char *head = roll(20) ? g_strndup((const char *)data, begins - 1) : any_head();
  char *body = changed_body((const char *)data + begins, size - begins);
  if (!body)
    return begins + LLVMFuzzerMutate(data + begins, size - begins, most - begins);
  g_autofree char *whole = g_strconcat(head, "\n", body, NULL);
  free(body);
  size_t length = MIN(strlen(whole), most);
  memcpy(data, whole, length);
  return length;
}

/* udunits2 leaks a few bytes on a bad parse. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void) {
  return "leak:libudunits2\nleak:libfontconfig\nleak:libpango\n";
}
