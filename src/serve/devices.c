#include "serve/devices.h"
#include "base/error.h"
#include <string.h>
#include <sys/random.h>

#define CODE_S      600
#define GUESSES     5    /* of one address */
#define GUESSES_ALL 2000 /* of all */
#define DEVICES     64
#define NAME_BYTES  80

static const char *const rights_words[] = {"none", "view", "write"};

struct device {
  gint64 id;
  char *name, *hash, *paired_at;
  enum ew_rights rights;
};

struct ew_devices {
  GMutex mutex;
  GArray *list; /* struct device */
  gint64 next_id;
  char code[9];
  enum ew_rights code_rights;
  gint64 code_until;   /* monotonic; 0: no code */
  GHashTable *guesses; /* address -> wrong ones of this code */
  guint guesses_all;
};

static void device_clear(gpointer data) {
  struct device *d = data;
  g_free(d->name);
  g_free(d->hash);
  g_free(d->paired_at);
}

static char *hash_of(const char *token) {
  return g_compute_checksum_for_string(G_CHECKSUM_SHA256, token, -1);
}

static void take_device(struct ew_devices *devices, const struct ew_node *node) {
  const char *hash = ew_node_text(node, "hash"), *name = ew_node_text(node, "name"),
             *at = ew_node_text(node, "paired_at");
  if (!hash || !name)
    return;
  struct device d = {.id = devices->next_id++,
                     .name = g_strdup(name),
                     .hash = g_strdup(hash),
                     .paired_at = g_strdup(at),
                     .rights = g_strcmp0(ew_node_text(node, "rights"), "write") == 0
                                   ? EW_RIGHTS_WRITE
                                   : EW_RIGHTS_VIEW};
  g_array_append_val(devices->list, d);
}

struct ew_devices *ew_devices_new(struct ew_book *book) {
  struct ew_devices *devices = g_new0(struct ew_devices, 1);
  g_mutex_init(&devices->mutex);
  devices->list = g_array_new(FALSE, TRUE, sizeof(struct device));
  g_array_set_clear_func(devices->list, device_clear);
  devices->next_id = 1;
  devices->guesses = g_hash_table_new(NULL, NULL);
  g_autofree char *text = ew_setting_get(book, "devices");
  g_autoptr(ew_node) root = text ? ew_json_parse(text, strlen(text), NULL) : NULL;
  const struct ew_node *list = root ? ew_node_member(root, "devices") : NULL;
  for (guint i = 0; list && list->kind == EW_NODE_LIST && i < list->children->len; i++)
    take_device(devices, g_ptr_array_index(list->children, i));
  return devices;
}

void ew_devices_free(struct ew_devices *devices) {
  g_array_unref(devices->list);
  g_hash_table_unref(devices->guesses);
  g_mutex_clear(&devices->mutex);
  g_free(devices);
}

enum ew_rights ew_devices_rights(struct ew_devices *devices, const char *token) {
  if (!token || strlen(token) != 64)
    return EW_RIGHTS_NONE;
  g_autofree char *hash = hash_of(token);
  enum ew_rights rights = EW_RIGHTS_NONE;
  g_mutex_lock(&devices->mutex);
  for (guint i = 0; i < devices->list->len; i++) {
    const struct device *d = &g_array_index(devices->list, struct device, i);
    if (strcmp(d->hash, hash) == 0)
      rights = d->rights;
  }
  g_mutex_unlock(&devices->mutex);
  return rights;
}

static void random_bytes(void *into, gsize size) {
  if (getrandom(into, size, 0) != (ssize_t)size)
    g_error("the kernel gives no random bytes");
}

char *ew_devices_code(struct ew_devices *devices, enum ew_rights rights) {
  guint64 number;
  do
    random_bytes(&number, sizeof number);
  while (number >= G_MAXUINT64 - G_MAXUINT64 % 100000000); /* every code is as likely */
  g_mutex_lock(&devices->mutex);
  g_snprintf(devices->code, sizeof devices->code, "%08" G_GUINT64_FORMAT, number % 100000000);
  devices->code_rights = rights;
  devices->code_until = g_get_monotonic_time() + (gint64)CODE_S * G_USEC_PER_SEC;
  g_hash_table_remove_all(devices->guesses);
  devices->guesses_all = 0;
  char *code = g_strdup(devices->code);
  g_mutex_unlock(&devices->mutex);
  return code;
}

static gboolean count_wrong(struct ew_devices *devices, guint32 address) {
  gpointer key = GUINT_TO_POINTER(address);
  guint wrong = GPOINTER_TO_UINT(g_hash_table_lookup(devices->guesses, key));
  g_hash_table_insert(devices->guesses, key, GUINT_TO_POINTER(wrong + 1));
  if (++devices->guesses_all >= GUESSES_ALL)
    devices->code_until = 0;
  return FALSE;
}

/* In constant time; a wrong guess is counted. With the mutex held. */
static gboolean take_code(struct ew_devices *devices, guint32 address, const char *code) {
  guint different = strlen(code) != 8;
  for (gsize i = 0; i < 8 && code[i]; i++)
    different |= (guint)(code[i] ^ devices->code[i]);
  gboolean alive = devices->code_until > g_get_monotonic_time();
  if (alive && !different) {
    devices->code_until = 0;
    return TRUE;
  }
  return count_wrong(devices, address);
}

static void write_list(const struct ew_devices *devices, struct ew_json *json, gboolean hashes) {
  ew_json_open_array(json, "devices");
  for (guint i = 0; i < devices->list->len; i++) {
    const struct device *d = &g_array_index(devices->list, struct device, i);
    ew_json_open(json, NULL);
    if (hashes)
      ew_json_text(json, "hash", d->hash);
    else
      ew_json_integer(json, "id", d->id);
    ew_json_text(json, "name", d->name);
    ew_json_text(json, "rights", rights_words[d->rights]);
    ew_json_text(json, "paired_at", d->paired_at);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static gboolean store(struct ew_devices *devices, struct ew_book *book, GError **error) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  write_list(devices, &json, TRUE);
  ew_json_close(&json);
  gboolean good = ew_book_begin(book, error) &&
                  ew_setting_set(book, "devices", json.text->str, error) &&
                  ew_book_commit(book, error);
  if (!good)
    ew_book_rollback(book);
  g_string_free(json.text, TRUE);
  return good;
}

static char *new_token(void) {
  guint8 bytes[32];
  GString *text = g_string_new(NULL);
  random_bytes(bytes, sizeof bytes);
  for (gsize i = 0; i < sizeof bytes; i++)
    g_string_append_printf(text, "%02x", bytes[i]);
  return g_string_free(text, FALSE);
}

static gboolean is_shut_out(const struct ew_devices *devices, guint32 address) {
  return GPOINTER_TO_UINT(g_hash_table_lookup(devices->guesses, GUINT_TO_POINTER(address))) >=
         GUESSES;
}

char *ew_devices_pair(struct ew_devices *devices, struct ew_book *book, guint32 address,
                      const char *code, const char *name, GError **error) {
  char *token = NULL;
  g_mutex_lock(&devices->mutex);
  if (devices->list->len >= DEVICES)
    ew_refuse(error, "%d devices are paired: revoke one first", DEVICES);
  else if (is_shut_out(devices, address))
    ew_refuse(error,
              "five wrong guesses came from this address: ask for a new code on the machine that "
              "serves the page");
  else if (!take_code(devices, address, code))
    ew_refuse(error, "this code is wrong, used or older than 10 minutes: ask for a new one on the "
                     "machine that serves the page");
  else {
    token = new_token();
    struct device d = {.id = devices->next_id++,
                       .name = g_strndup(name && *name ? name : "a device", NAME_BYTES),
                       .hash = hash_of(token),
                       .paired_at = ew_time_now(),
                       .rights = devices->code_rights};
    g_array_append_val(devices->list, d);
    if (!store(devices, book, error))
      g_clear_pointer(&token, g_free);
  }
  g_mutex_unlock(&devices->mutex);
  return token;
}

gboolean ew_devices_revoke(struct ew_devices *devices, struct ew_book *book, gint64 id,
                           GError **error) {
  gboolean found = FALSE;
  g_mutex_lock(&devices->mutex);
  for (guint i = 0; !found && i < devices->list->len; i++)
    if (g_array_index(devices->list, struct device, i).id == id) {
      g_array_remove_index(devices->list, i);
      found = TRUE;
    }
  gboolean good =
      found ? store(devices, book, error) : ew_refuse(error, "no such device is paired");
  g_mutex_unlock(&devices->mutex);
  return good;
}

void ew_devices_write_json(struct ew_devices *devices, struct ew_json *json) {
  g_mutex_lock(&devices->mutex);
  write_list(devices, json, FALSE);
  g_mutex_unlock(&devices->mutex);
}
