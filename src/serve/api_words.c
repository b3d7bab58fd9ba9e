/* The page's texts in the reader's language, as the program's own catalogue has them. English has none: a text is its own. */
#include "base/language.h"
#include "serve/service.h"

static void write_entry(const char *context, const char *english, const char *text,
                        const char *many, gpointer user) {
  struct ew_json *json = user;
  g_autofree char *key =
      context ? g_strdup_printf("%s\004%s", context, english) : g_strdup(english);
  ew_json_open_array(json, NULL);
  ew_json_text(json, NULL, key);
  ew_json_text(json, NULL, text);
  if (many)
    ew_json_text(json, NULL, many);
  ew_json_close_array(json);
}

gboolean ew_api_words(struct ew_service *service, const struct ew_request *request,
                      struct ew_reply *reply, GError **error) {
  (void)service;
  (void)request;
  (void)error;
  struct ew_json *json = &reply->json;
  const ew_language *language = ew_language_now();
  const char decimal[] = {ew_language_decimal(), 0};
  ew_json_text(json, "language", ew_language_code(language));
  ew_json_text(json, "decimal", decimal);
  ew_json_text(json, "thousands", ew_language_thousands());
  ew_json_text(json, "day", ew_language_day_pattern());
  ew_json_open_array(json, "languages");
  for (const char *const *one = ew_language_codes(); *one; one++)
    ew_json_text(json, NULL, *one);
  ew_json_close_array(json);
  ew_json_open_array(json, "texts");
  ew_language_each(language, write_entry, json);
  ew_json_close_array(json);
  return TRUE;
}
