/* The thread; see the head of shipper.h. */
#include "shop/shipper.h"
#include "base/error.h"
#include "shop/ship.h"

#define PERIOD_S  2
#define LONGEST_S 60

struct ew_shipper {
  GThread *thread;
  GMutex mutex;
  GCond wake;
  gint stop;
  char *path, *address;
  ew_shipper_says says;
  gpointer user;
  char *said; /* NULL: all is there */
  gboolean begun;
};

static gboolean round_of(struct ew_shipper *s, struct ew_book **book, struct ew_shop_store **store,
                         GError **error) {
  struct ew_ship_news news;
  if (!*book && !(*book = ew_book_open(s->path, FALSE, error)))
    return FALSE;
  if (!*store && !(*store = ew_shop_open(s->address, &s->stop, error)))
    return FALSE;
  return ew_ship_all(*book, *store, &news, error);
}

static void tell(struct ew_shipper *s, const char *trouble) {
  if (s->begun && g_strcmp0(s->said, trouble) == 0)
    return;
  if (s->begun || trouble)
    s->says(trouble, s->user);
  s->begun = TRUE;
  g_free(s->said);
  s->said = g_strdup(trouble);
}

/* TRUE: go on. */
static gboolean rest(struct ew_shipper *s, int seconds) {
  gint64 until = g_get_monotonic_time() + seconds * G_USEC_PER_SEC;
  g_mutex_lock(&s->mutex);
  while (!g_atomic_int_get(&s->stop) && g_cond_wait_until(&s->wake, &s->mutex, until))
    continue;
  g_mutex_unlock(&s->mutex);
  return !g_atomic_int_get(&s->stop);
}

static gpointer run(gpointer user) {
  struct ew_shipper *s = user;
  struct ew_book *book = NULL;
  struct ew_shop_store *store = NULL;
  int seconds = PERIOD_S;
  do {
    g_autoptr(GError) error = NULL;
    gboolean good = round_of(s, &book, &store, &error);
    if (!g_atomic_int_get(&s->stop))
      tell(s, good ? NULL : error->message);
    if (!good)
      g_clear_pointer(&store, ew_shop_close);
    seconds = good ? PERIOD_S : MIN(2 * seconds, LONGEST_S);
  } while (rest(s, seconds));
  ew_shop_close(store);
  ew_book_close(book);
  ew_book_forget_trouble();
  return NULL;
}

static char *address_of(const char *path) {
  g_autoptr(ew_book) book = ew_book_open(path, FALSE, NULL);
  struct ew_ship_state state;
  if (!book || !ew_ship_state(book, &state, NULL))
    return NULL;
  char *address = g_strcmp0(state.role, "sends") == 0 ? g_strdup(state.address) : NULL;
  ew_ship_state_clear(&state);
  return address;
}

struct ew_shipper *ew_shipper_start(const char *path, ew_shipper_says says, gpointer user) {
  char *address = address_of(path);
  if (!address)
    return NULL;
  struct ew_shipper *s = g_new0(struct ew_shipper, 1);
  s->path = g_strdup(path);
  s->address = address;
  s->says = says;
  s->user = user;
  g_mutex_init(&s->mutex);
  g_cond_init(&s->wake);
  s->thread = g_thread_new("shipper", run, s);
  return s;
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
  g_free(s->said);
  g_free(s);
}
