/* A queue, the page that asked last at its head. See followed.h. */
#include "serve/followed.h"
#include <string.h>

struct follower {
  char *device, *page;
  struct ew_cycle_warm *warm;
};

struct ew_followed {
  GQueue all; /* struct follower* */
};

static void follower_free(gpointer data) {
  struct follower *f = data;
  g_free(f->device);
  g_free(f->page);
  ew_cycle_warm_free(f->warm);
  g_free(f);
}

struct ew_followed *ew_followed_new(void) {
  struct ew_followed *followed = g_new0(struct ew_followed, 1);
  g_queue_init(&followed->all);
  return followed;
}

void ew_followed_free(struct ew_followed *followed) {
  if (!followed)
    return;
  g_queue_clear_full(&followed->all, follower_free);
  g_free(followed);
}

static struct follower *begin(struct ew_followed *followed, const char *device, const char *page) {
  struct follower *f = g_new0(struct follower, 1);
  *f = (struct follower){g_strdup(device), g_strdup(page), ew_cycle_warm_new()};
  if (followed->all.length == EW_FOLLOWED_MOST)
    follower_free(g_queue_pop_tail(&followed->all));
  g_queue_push_head(&followed->all, f);
  return f;
}

struct ew_cycle_warm *ew_followed_of(struct ew_followed *followed, const char *device,
                                     const char *page) {
  for (GList *l = followed->all.head; l; l = l->next) {
    struct follower *f = l->data;
    if (strcmp(f->device, device) == 0 && strcmp(f->page, page) == 0) {
      g_queue_unlink(&followed->all, l);
      g_queue_push_head_link(&followed->all, l);
      return f->warm;
    }
  }
  return begin(followed, device, page)->warm;
}
