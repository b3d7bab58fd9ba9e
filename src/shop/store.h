/* The port beneath the shop: what a store that several cells send to must be able to do, and nothing of how. src/shop/postgresql/
 * is the one that ships.
 *
 * What a store promises:
 *   1. Facts are only added. The same fact again changes nothing; another under the same name is refused, aloud.
 *   2. commit: all of it, for good, or nothing. What reached() says was committed.
 *   3. Between begin and commit nobody else adds to that writer's facts.
 *   4. A failure is EW_ERROR_INTERNAL where trying again may help (nobody answers, the disk there is full), and EW_ERROR_INPUT where it
 *      won't (password, role, another schema, two digests). Nothing takes longer than WAIT_S, or than *stop stays 0.
 *   5. No password is kept, printed or logged: where it comes from is the store's own affair. */
#pragma once
#include "book/ship.h"

struct ew_shop_store_class;
struct ew_shop_store {
  const struct ew_shop_store_class *class;
};

/* A cell's book in the shop. */
struct ew_shop_book {
  const char *identity, *name; /* which copies share; what people call the cell */
};
struct ew_shop_clock {
  double ahead_s, doubt_s; /* the shop's clock less this one's, and half of how long asking took */
};
/* The end of a chain of writers: a book as the shop has it. */
struct ew_shop_head {
  char *name, *identity, *writer, *login;
  gint64 facts, last; /* that it has; the number of its last */
  char *came_at;      /* when the last came, UTC; NULL: none did */
  double clock_s;     /* the cell's clock was behind the shop's by that; NaN: not asked */
};

struct ew_shop_store_class {
  void (*close)(struct ew_shop_store *store);
  /* Lays what a shop needs, or brings it up to date; *before: its version then, 0: there was none. *laid FALSE: it was all
   * there. */
  gboolean (*lay)(struct ew_shop_store *store, gboolean *laid, gint64 *before, GError **error);
  /* Is it a shop that this program can send to? */
  gboolean (*check)(struct ew_shop_store *store, GError **error);
  gboolean (*join)(struct ew_shop_store *store, const struct ew_shop_book *book, GError **error);
  /* A writer: its place in the chain. parent NULL: the first. Again the same: nothing happens. */
  gboolean (*line)(struct ew_shop_store *store, const char *identity, const char *writer,
                   const char *parent, gint64 first, GError **error);
  gboolean (*clock)(struct ew_shop_store *store, struct ew_shop_clock *clock, GError **error);
  /* The last number of a writer that is there; 0: none. */
  gboolean (*reached)(struct ew_shop_store *store, const char *writer, gint64 *seq, GError **error);
  /* *mark 0: it has no such number. */
  gboolean (*mark)(struct ew_shop_store *store, const char *writer, gint64 seq, gint64 *mark,
                   GError **error);
  /* Has it had that number for so long, by its own clock? */
  gboolean (*settled)(struct ew_shop_store *store, const char *writer, gint64 seq, int days,
                      gboolean *settled, GError **error);
  gboolean (*begin)(struct ew_shop_store *store, const char *writer, GError **error);
  gboolean (*put)(struct ew_shop_store *store, const char *writer, const struct ew_letter *letter,
                  GError **error);
  gboolean (*shipped)(struct ew_shop_store *store, const char *writer, gint64 seq,
                      const struct ew_shop_clock *clock, GError **error);
  gboolean (*commit)(struct ew_shop_store *store, GError **error);
  void (*rollback)(struct ew_shop_store *store); /* never fails */
  /* To read. struct ew_shop_head, cleared by the array. */
  GArray *(*heads)(struct ew_shop_store *store, GError **error);
  /* One instant of it until rollback. */
  gboolean (*begin_reading)(struct ew_shop_store *store, GError **error);
  /* The facts of a chain that ends in `writer`, after number `after`, in order. */
  gboolean (*read)(struct ew_shop_store *store, const char *writer, gint64 after, ew_ship_take take,
                   gpointer user, GError **error);
};

/* By its address. *stop, which may be set from another thread, ends whatever it waits for; NULL: nothing does. */
struct ew_shop_store *ew_shop_open(const char *address, const gint *stop, GError **error);
void ew_shop_close(struct ew_shop_store *store);
typedef struct ew_shop_store ew_shop_store;
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_shop_store, ew_shop_close)
/* Is it an address of a shop, and not a file? */
gboolean ew_shop_is_address(const char *text);
/* "postgresql://shop.example/weir": refuses a password in it. */
gboolean ew_shop_check_address(const char *address, GError **error);
void ew_shop_head_clear(void *head);
