/* The list of paired devices: read again when its file changed, changed under the file's lock, put on the disk
 * before it is in force. The diagram and what a guesser can reach are in devices.h. One mutex; nothing that waits
 * for a peer is done under it. */
#include "book/keep.h"
#include "serve/devices.h"
#include "base/error.h"
#include "base/machine.h"
#include "base/plain.h"
#include "book/store.h"
#include "serve/device_codes.h"
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define DEVICES    64
#define NAME_BYTES 80

static const char *const rights_words[] = {
#define X(id, word) word,
    EW_RIGHTS(X)
#undef X
};

struct device {
  gint64 id;
  char *name, *hash, *paired_at;
  enum ew_rights rights;
};

/* Which version of the file was read. */
struct seen {
  ino_t inode;
  off_t size;
  struct timespec at;
};

struct ew_devices {
  GMutex mutex;
  char *identity, *file, *machine;
  GArray *list; /* struct device: what the file says */
  struct seen seen;
  char *problem;
  struct ew_device_codes *codes;
};

gboolean ew_rights_find(const char *word, enum ew_rights *rights) {
  for (int i = EW_RIGHTS_VIEW; i < EW_RIGHTS_COUNT; i++)
    if (g_strcmp0(word, rights_words[i]) == 0) {
      *rights = (enum ew_rights)i;
      return TRUE;
    }
  return FALSE;
}

static void device_clear(gpointer data) {
  struct device *d = data;
  g_free(d->name);
  g_free(d->hash);
  g_free(d->paired_at);
}

static GArray *new_list(void) {
  GArray *list = g_array_new(FALSE, TRUE, sizeof(struct device));
  g_array_set_clear_func(list, device_clear);
  return list;
}

static char *hash_of(const char *token) {
  return g_compute_checksum_for_string(G_CHECKSUM_SHA256, token, -1);
}

/* ---- the machine's file ---- */

static gint64 next_id(const GArray *list) {
  gint64 last = 0;
  for (guint i = 0; i < list->len; i++)
    last = MAX(last, g_array_index(list, struct device, i).id);
  g_assert(last >= 0 && last < G_MAXINT64);
  return last + 1;
}

static gboolean take_device(GArray *list, const struct ew_node *node) {
  const char *hash = ew_node_text(node, "hash"), *name = ew_node_text(node, "name"),
             *id = ew_node_text(node, "id");
  enum ew_rights rights;
  guint64 number;
  if (!hash || strlen(hash) != 64 || !name || !id || list->len >= DEVICES ||
      !ew_rights_find(ew_node_text(node, "rights"), &rights) ||
      !g_ascii_string_to_unsigned(id, 10, 1, G_MAXINT32, &number, NULL))
    return FALSE;
  struct device d = {.id = (gint64)number,
                     .name = g_strdup(name),
                     .hash = g_strdup(hash),
                     .paired_at = g_strdup(ew_node_text(node, "paired_at")),
                     .rights = rights};
  g_array_append_val(list, d);
  return TRUE;
}

/* A file of another machine or book, or one that is not whole, gives nobody a right. */
static gboolean take_all(const struct ew_devices *devices, const char *text, GArray *list) {
  g_autoptr(ew_node) root = ew_json_parse(text, strlen(text), NULL);
  const struct ew_node *all = root ? ew_node_member(root, "devices") : NULL;
  gboolean good = all && all->kind == EW_NODE_LIST &&
                  g_strcmp0(ew_node_text(root, "machine"), devices->machine) == 0 &&
                  g_strcmp0(ew_node_text(root, "book"), devices->identity) == 0;
  for (guint i = 0; good && i < all->children->len; i++)
    good = take_device(list, g_ptr_array_index(all->children, i));
  return good;
}

static struct seen look(const struct ew_devices *devices) {
  g_autofree char *path = ew_machine_path(devices->file);
  struct stat about;
  return lstat(path, &about) == 0 ? (struct seen){about.st_ino, about.st_size, about.st_mtim}
                                  : (struct seen){0};
}

static gboolean is_same(struct seen a, struct seen b) {
  return a.inode == b.inode && a.size == b.size && a.at.tv_sec == b.at.tv_sec &&
         a.at.tv_nsec == b.at.tv_nsec;
}

/* With the mutex held. */
static void read_again(struct ew_devices *devices) {
  g_autoptr(GError) error = NULL;
  g_autofree char *text = NULL;
  g_autoptr(GArray) list = new_list();
  devices->seen = look(devices);
  if (ew_machine_read(devices->file, &text, &error) && text && !take_all(devices, text, list)) {
    g_autofree char *path = ew_machine_path(devices->file);
    g_array_set_size(list, 0);
    ew_refuse(&error,
              "%s: belongs to another machine or book, or is not whole; remove it, and pair the "
              "devices again",
              path);
  }
  g_free(devices->problem);
  devices->problem = error ? g_strdup(error->message) : NULL;
  g_assert(list->len <= DEVICES && (!devices->problem || list->len == 0)); /* in doubt nobody */
  g_array_unref(devices->list);
  devices->list = g_steal_pointer(&list);
}

static void read_if_changed(struct ew_devices *devices) {
  if (!is_same(devices->seen, look(devices)))
    read_again(devices);
}

static void write_list(const GArray *list, struct ew_json *json, gboolean hashes) {
  ew_json_open_array(json, "devices");
  for (guint i = 0; i < list->len; i++) {
    const struct device *d = &g_array_index(list, struct device, i);
    ew_json_open(json, NULL);
    ew_json_integer(json, "id", d->id);
    if (hashes)
      ew_json_text(json, "hash", d->hash);
    ew_json_text(json, "name", d->name);
    ew_json_text(json, "rights", rights_words[d->rights]);
    ew_json_text(json, "paired_at", d->paired_at);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static gboolean store(const struct ew_devices *devices, const GArray *list, GError **error) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_text(&json, "machine", devices->machine);
  ew_json_text(&json, "book", devices->identity);
  write_list(list, &json, TRUE);
  ew_json_close(&json);
  gboolean good = ew_machine_write(devices->file, json.text->str, error);
  g_string_free(json.text, TRUE);
  return good;
}

/* What is in force but for one of them. */
static GArray *copy_without(const GArray *list, gint64 id) {
  GArray *copy = new_list();
  for (guint i = 0; i < list->len; i++) {
    struct device d = g_array_index(list, struct device, i);
    if (d.id == id)
      continue;
    d.name = g_strdup(d.name);
    d.hash = g_strdup(d.hash);
    d.paired_at = g_strdup(d.paired_at);
    g_array_append_val(copy, d);
  }
  return copy;
}

/* On the disk first, then in force. Takes `list`. */
static gboolean put_in_force(struct ew_devices *devices, GArray *list, GError **error) {
  g_assert(list->len <= DEVICES);
  if (!store(devices, list, error)) {
    g_array_unref(list);
    return FALSE;
  }
  g_array_unref(devices->list);
  devices->list = list;
  devices->seen = look(devices);
  g_clear_pointer(&devices->problem, g_free);
  return TRUE;
}

/* Another server of this book may change the file at the same time: one after the other. -1 with an error. */
static int begin_change(struct ew_devices *devices, GError **error) {
  int lock = ew_machine_lock("devices.lock", error);
  if (lock >= 0)
    read_again(devices);
  return lock;
}

/* ---- what is asked ---- */

struct ew_devices *ew_devices_new(const char *book_identity) {
  struct ew_devices *devices = g_new0(struct ew_devices, 1);
  g_mutex_init(&devices->mutex);
  g_autofree char *digest = hash_of(book_identity ? book_identity : "");
  devices->identity = g_strdup(book_identity ? book_identity : "");
  devices->file = g_strdup_printf("devices-%.16s.json", digest); /* a book's words name no file */
  devices->machine = ew_machine_identity();
  devices->list = new_list();
  devices->codes = ew_device_codes_new();
  read_again(devices);
  return devices;
}

void ew_devices_free(struct ew_devices *devices) {
  g_array_unref(devices->list);
  ew_device_codes_free(devices->codes);
  g_mutex_clear(&devices->mutex);
  g_free(devices->identity);
  g_free(devices->file);
  g_free(devices->machine);
  g_free(devices->problem);
  g_free(devices);
}

char *ew_devices_problem(struct ew_devices *devices) {
  g_mutex_lock(&devices->mutex);
  read_if_changed(devices);
  char *problem = g_strdup(devices->problem);
  g_mutex_unlock(&devices->mutex);
  return problem;
}

GPtrArray *ew_devices_leave_book(struct ew_book *book, GError **error) {
  g_autofree char *text = NULL;
  if (!ew_setting_get(book, "devices", &text, error))
    return NULL;
  GPtrArray *names = g_ptr_array_new_with_free_func(g_free);
  if (!text || !*text)
    return names;
  g_autoptr(ew_node) root = ew_json_parse(text, strlen(text), NULL);
  const struct ew_node *list = root ? ew_node_member(root, "devices") : NULL;
  for (guint i = 0; list && list->kind == EW_NODE_LIST && i < MIN(list->children->len, DEVICES);
       i++) {
    const char *name = ew_node_text(list->children->pdata[i], "name");
    g_ptr_array_add(names, ew_plain_line(name ? name : "a device"));
  }
  ew_keep_setting(book, "devices", "",
                  NULL); /* told again at the next start; it gives nobody a right */
  return names;
}

enum ew_rights ew_devices_rights(struct ew_devices *devices, const char *token, gint64 *id) {
  if (!token || strlen(token) != 64)
    return EW_RIGHTS_NONE;
  g_autofree char *hash = hash_of(token);
  enum ew_rights rights = EW_RIGHTS_NONE;
  g_mutex_lock(&devices->mutex);
  read_if_changed(devices);
  for (guint i = 0; i < devices->list->len; i++) {
    const struct device *d = &g_array_index(devices->list, struct device, i);
    if (strcmp(d->hash, hash) != 0)
      continue;
    rights = d->rights;
    if (id)
      *id = d->id;
  }
  g_mutex_unlock(&devices->mutex);
  return rights;
}

char *ew_devices_code(struct ew_devices *devices, enum ew_rights rights) {
  g_mutex_lock(&devices->mutex);
  char *code = g_strdup(ew_device_codes_make(devices->codes, rights));
  g_mutex_unlock(&devices->mutex);
  return code;
}

/* With the mutex held, and the file locked. */
static char *add_device(struct ew_devices *devices, const char *name, enum ew_rights rights,
                        GError **error) {
  g_assert(rights > EW_RIGHTS_NONE && rights < EW_RIGHTS_COUNT);
  if (devices->list->len >= DEVICES) {
    ew_refuse(error, "%d devices are paired: revoke one first", DEVICES);
    return NULL;
  }
  char *token = ew_machine_random(32);
  GArray *list = copy_without(devices->list, 0);
  struct device d = {.id = next_id(list),
                     .name = g_strndup(name && *name ? name : "a device", NAME_BYTES),
                     .hash = hash_of(token),
                     .paired_at = ew_time_now(),
                     .rights = rights};
  g_array_append_val(list, d);
  if (put_in_force(devices, list, error))
    return token;
  g_free(token);
  return NULL;
}

char *ew_devices_pair(struct ew_devices *devices, guint32 address, const char *code,
                      const char *name, GError **error) {
  char *token = NULL;
  enum ew_rights rights;
  if (name && !ew_plain_is(name)) {
    ew_refuse(error, "name: use letters, digits and signs, no control characters");
    return NULL;
  }
  g_mutex_lock(&devices->mutex);
  if (ew_device_codes_fits(devices->codes, address, code, &rights, error)) {
    int lock = begin_change(devices, error);
    if (lock >= 0) {
      token = add_device(devices, name, rights, error);
      close(lock);
    }
    if (token)
      ew_device_codes_end(devices->codes);
  }
  g_mutex_unlock(&devices->mutex);
  return token;
}

static const char *name_of(const struct ew_devices *devices, gint64 id) {
  for (guint i = 0; i < devices->list->len; i++)
    if (g_array_index(devices->list, struct device, i).id == id)
      return g_array_index(devices->list, struct device, i).name;
  return NULL;
}

gboolean ew_devices_revoke(struct ew_devices *devices, gint64 id, GError **error) {
  g_mutex_lock(&devices->mutex);
  int lock = begin_change(devices, error);
  g_autofree char *name = lock >= 0 ? g_strdup(name_of(devices, id)) : NULL;
  gboolean good = lock >= 0 && (name || ew_refuse(error, "no such device is paired"));
  if (good && !put_in_force(devices, copy_without(devices->list, id), error)) {
    g_prefix_error(error, "%s is still in force, its revocation could not be stored: ", name);
    good = FALSE;
  }
  if (lock >= 0)
    close(lock);
  g_mutex_unlock(&devices->mutex);
  return good;
}

void ew_devices_write_json(struct ew_devices *devices, struct ew_json *json) {
  g_mutex_lock(&devices->mutex);
  read_if_changed(devices);
  write_list(devices->list, json, FALSE);
  ew_json_text(json, "problem", devices->problem);
  g_mutex_unlock(&devices->mutex);
}
