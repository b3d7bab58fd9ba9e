/* The thread; see the head of shipper.h. */
#include "shop/shipper.h"
#include "base/error.h"
#include "shop/fetch.h"
#include "shop/ship.h"
#include <glib/gstdio.h>

#define PERIOD_S  2
#define WAITS_S   5
#define LONGEST_S 60

struct ew_shipper {
  GThread *thread;
  GMutex mutex;
  GCond wake;
  gint stop;
  char *path, *address, *cell; /* address NULL: the book at `path` sends, and knows its shop */
  guint64 file;                /* of a copy: which one was there at the start */
  ew_shipper_says says;
  gpointer user;
  enum ew_shipper_answer last; /* under the mutex, as is what follows */
  char *said;                  /* NULL: all is there */
};

/* What the thread holds open between rounds. */
struct round {
  struct ew_book *book;
  struct ew_shop_store *store;
  gint64 trim_due;
  char *seen; /* of a copy: see ew_shop_fetch_more */
};

/* *address NULL: it belongs to no shop, it is a copy, or it can't be opened: who opened it beside this thread says so. */
static void find_address(struct ew_shipper *s, struct round *r, char **address) {
  struct ew_ship_state state;
  *address = NULL;
  if (!r->book)
    r->book = ew_book_open(s->path, FALSE, NULL);
  if (!r->book || !ew_ship_state(r->book, &state, NULL))
    return;
  if (g_strcmp0(state.role, "sends") == 0)
    *address = g_strdup(state.address);
  ew_ship_state_clear(&state);
}

static guint64 file_at(const char *path) {
  GStatBuf facts;
  return g_stat(path, &facts) == 0 ? (guint64)facts.st_ino : 0;
}

/* Another program may have made the copy again under its name: whoever reads here has the former one open. */
static gboolean fetch(struct ew_shipper *s, struct round *r, GError **error) {
  struct ew_fetched fetched;
  if (file_at(s->path) != s->file)
    return ew_refuse(error,
                     "%s was made again by another program, and what is read here is the "
                     "former copy: start this program again",
                     s->path);
  return (r->store || (r->store = ew_shop_open(s->address, &s->stop, error))) &&
         ew_shop_fetch_more(r->store, s->address, s->cell, s->path, &r->seen, &fetched, error);
}

static gboolean send(struct ew_shipper *s, struct round *r, const char *address, GError **error) {
  struct ew_ship_news news;
  return (r->store || (r->store = ew_shop_open(address, &s->stop, error))) &&
         ew_ship_all(r->book, r->store, &news, error) &&
         ew_ship_trim_daily(r->book, r->store, &r->trim_due, error);
}

static void tell(struct ew_shipper *s, const GError *trouble) {
  const char *says = trouble ? trouble->message : NULL;
  g_mutex_lock(&s->mutex);
  enum ew_shipper_answer before = s->last;
  g_assert((before == EW_SHIPPER_ALL_THERE || before == EW_SHIPPER_NOT_ASKED) == (s->said == NULL));
  s->last = !trouble                             ? EW_SHIPPER_ALL_THERE
            : trouble->code == EW_ERROR_INTERNAL ? EW_SHIPPER_NO_ANSWER
                                                 : EW_SHIPPER_REFUSED;
  gboolean same = s->last == before && (s->last == EW_SHIPPER_NO_ANSWER || /* in whatever words */
                                        g_strcmp0(s->said, says) == 0);
  g_free(s->said);
  s->said = g_strdup(says);
  g_mutex_unlock(&s->mutex);
  if (!same && (says || before != EW_SHIPPER_NOT_ASKED))
    s->says(says, s->user);
}

enum ew_shipper_answer ew_shipper_last(struct ew_shipper *s, char **trouble) {
  g_mutex_lock(&s->mutex);
  enum ew_shipper_answer last = s->last;
  *trouble = g_strdup(s->said);
  g_mutex_unlock(&s->mutex);
  return last;
}

/* TRUE: go on. */
static gboolean rest(struct ew_shipper *s, int seconds) {
  g_assert(seconds >= PERIOD_S && seconds <= LONGEST_S);
  gint64 until = g_get_monotonic_time() + seconds * G_USEC_PER_SEC;
  g_mutex_lock(&s->mutex);
  while (!g_atomic_int_get(&s->stop) && g_cond_wait_until(&s->wake, &s->mutex, until))
    continue;
  g_mutex_unlock(&s->mutex);
  return !g_atomic_int_get(&s->stop);
}

/* How long to rest. */
static int round_of(struct ew_shipper *s, struct round *r, int rested_s) {
  g_autoptr(GError) error = NULL;
  g_autofree char *address = NULL;
  if (!s->address)
    find_address(s, r, &address);
  ew_book_forget_trouble();
  if (!address && !s->address)
    return WAITS_S;
  gboolean good = s->address ? fetch(s, r, &error) : send(s, r, address, &error);
  ew_book_forget_trouble();
  if (!g_atomic_int_get(&s->stop))
    tell(s, error);
  if (!good)
    g_clear_pointer(&r->store, ew_shop_close);
  if (good)
    return s->address ? WAITS_S : PERIOD_S;
  return MIN(2 * rested_s, LONGEST_S);
}

static gpointer run(gpointer user) {
  struct ew_shipper *s = user;
  struct round round = {0};
  int seconds = PERIOD_S;
  do
    seconds = round_of(s, &round, seconds);
  while (rest(s, seconds));
  ew_shop_close(round.store);
  g_free(round.seen);
  ew_book_close(round.book);
  ew_book_forget_trouble();
  return NULL;
}

static struct ew_shipper *start(const char *given, const char *path, ew_shipper_says says,
                                gpointer user) {
  struct ew_shipper *s = g_new0(struct ew_shipper, 1);
  s->path = g_strdup(path);
  if (given)
    ew_shop_split(given, &s->address, &s->cell);
  s->file = given ? file_at(path) : 0;
  s->says = says;
  s->user = user;
  g_mutex_init(&s->mutex);
  g_cond_init(&s->wake);
  s->thread = g_thread_new("shipper", run, s);
  return s;
}

struct ew_shipper *ew_shipper_start(const char *path, ew_shipper_says says, gpointer user) {
  return start(NULL, path, says, user);
}

struct ew_shipper *ew_shipper_start_reading(const char *given, const char *path,
                                            ew_shipper_says says, gpointer user) {
  g_assert(ew_shop_is_address(given));
  return start(given, path, says, user);
}

void ew_shipper_stop(struct ew_shipper *s) {
  if (!s)
    return;
  g_mutex_lock(&s->mutex);
  g_atomic_int_set(&s->stop, 1);
  g_cond_signal(&s->wake);
  g_mutex_unlock(&s->mutex);
  g_thread_join(s->thread);
  g_mutex_clear(&s->mutex);
  g_cond_clear(&s->wake);
  g_free(s->path);
  g_free(s->address);
  g_free(s->cell);
  g_free(s->said);
  g_free(s);
}
