/* The channels this program knows: what is measured, its kind, how it is called in the trade, how
 * far such sensors usually lag (reported, never applied), and what it can plausibly read. Written once; recognition, cleaning, curves,
 * reports and the manual all read it from here. Lags and ranges: common practice, no source. */
#pragma once
#include "base/language.h"
#include "base/message.h"
#include "base/units.h"

/* id, key, label, kind, usual lag s, plausible low, plausible high (inside units), in the curve, names
 *
 * Names are alternatives apart by '|'; each is words that must all stand in the column's name; behind '=' it must be all of the name. They
 * are written as headings are compared (channel.c): small letters without accents, ä as ae, and "temp" and "press" for what five
 * languages call temperature and pressure (common practice, no source). French "richesse" is fuel by air, the inverse of lambda: not here. */
#define EW_CHANNELS(X)                                                                             \
  X(TIME, "time", EW_TEXT("time"), EW_KIND_TIME, 0, -1e15, 1e15, 0,                                \
    "time|t|timestamp|clock|seconds|elapsed|zeit|temps|date time|datetime|date|hh mm "             \
    "ss|uhrzeit|tiempo|tempo|tijd|tijdstip|heure|hora|ora|=fecha|=datum")                          \
  X(SPEED, "speed", EW_TEXT("engine speed"), EW_KIND_ROTATIONAL_SPEED, 0, 0, 25000, 0,             \
    "rpm|engine speed|speed|crank speed|revs|drehzahl|regime|engine rpm|eng spd|n "                \
    "engine|motordrehzahl|regime moteur|vitesse moteur|vitesse "                                   \
    "rotation|revoluciones|regimen|regimen motor|velocidad motor|vueltas motor|giri|giri "         \
    "motore|numero giri|velocita motore|toerental|motortoerental")                                 \
  X(SPEED_2, "speed_2", EW_TEXT("second speed"), EW_KIND_ROTATIONAL_SPEED, 0, 0, 25000, 0,         \
    "dyno speed|absorber speed|rotor speed|brake speed|speed 2|rpm 2|dyno "                        \
    "rpm|bremsendrehzahl|drehzahl bremse|regime frein|regimen freno|giri freno|remtoerental")      \
  X(TORQUE, "torque", EW_TEXT("torque"), EW_KIND_TORQUE, 0, -300, 20000, 0,                        \
    "torque|brake torque|tq|trq|drehmoment|motordrehmoment|couple|couple moteur|max "              \
    "torque|moment|par motor|=par|coppia|coppia motrice|koppel|motorkoppel")                       \
  X(POWER, "power", EW_TEXT("power"), EW_KIND_POWER, 0, -1e5, 5e6, 0,                              \
    "power|brake "                                                                                 \
    "power|hp|leistung|motorleistung|puissance|potencia|potenza|vermogen|motorvermogen")           \
  X(THROTTLE, "throttle", EW_TEXT("throttle position"), EW_KIND_RATIO, 0, -0.1, 1.2, 0,            \
    "throttle|tps|throttle "                                                                       \
    "position|pedal|drosselklappe|drosselklappenstellung|drosselklappenwinkel|gaspedal|throttle "  \
    "angle|papillon|position papillon|ouverture papillon|accelerateur|mariposa|posicion "          \
    "mariposa|acelerador|farfalla|apertura farfalla|posizione "                                    \
    "farfalla|acceleratore|gasklep|gasklepstand|gaspedaal")                                        \
  X(MANIFOLD_PRESSURE, "manifold_pressure", EW_TEXT("manifold pressure"),                          \
    EW_KIND_PRESSURE_ABSOLUTE, 0, 1e3, 5e5, 1,                                                     \
    "manifold press|map|manifold absolute press|inlet manifold press|saugrohrdruck|press "         \
    "admission|press collecteur|press admision|press colector|press aspirazione|press "            \
    "collettore|inlaatdruk|inlaatspruitstukdruk")                                                  \
  X(LAMBDA, "lambda", EW_TEXT("lambda"), EW_KIND_LAMBDA, 0.15, 0.5, 3, 1,                          \
    "lambda|lam|lambda 1|lambda bank 1|wideband|lambdawert|lambdawaarde")                          \
  X(LAMBDA_2, "lambda_2", EW_TEXT("lambda, second bank"), EW_KIND_LAMBDA, 0.15, 0.5, 3, 1,         \
    "lambda 2|lambda bank 2|lam 2")                                                                \
  X(AIR_FUEL_RATIO, "air_fuel_ratio", EW_TEXT("air-fuel ratio"), EW_KIND_AIR_FUEL_RATIO, 0.15, 2,  \
    60, 0,                                                                                         \
    "afr|air fuel ratio|air fuel|a f|afr 1|rapport air carburant|rapport air essence|relacion "    \
    "aire combustible|rapporto aria carburante|rapporto aria combustibile|rapporto aria "          \
    "benzina|lucht brandstof verhouding|lucht brandstofverhouding|luft kraftstoff "                \
    "verhaeltnis|luft kraftstoffverhaeltnis")                                                      \
  X(FUEL_FLOW, "fuel_flow", EW_TEXT("fuel flow"), EW_KIND_MASS_FLOW, 0, 0, 5, 1,                   \
    "fuel flow|fuel rate|fuel|fuel mass flow|kraftstoff|fuel "                                     \
    "consumption|kraftstoffverbrauch|kraftstoffdurchfluss|kraftstoffmassenstrom|debit "            \
    "carburant|debit essence|consommation carburant|consommation essence|caudal "                  \
    "combustible|consumo combustible|portata carburante|portata combustibile|portata "             \
    "benzina|consumo carburante|consumo "                                                          \
    "benzina|brandstofverbruik|brandstofstroom|brandstofdebiet")                                   \
  X(AIR_FLOW, "air_flow", EW_TEXT("air flow"), EW_KIND_MASS_FLOW, 0, 0, 20, 1,                     \
    "air flow|airflow|maf|air mass flow|mass air flow|intake air "                                 \
    "flow|luftmasse|luftmassenstrom|luftdurchsatz|debit air|caudal aire|flujo aire|portata "       \
    "aria|luchtmassastroom|luchtstroom|luchtdebiet")                                               \
  X(OIL_PRESSURE, "oil_pressure", EW_TEXT("oil pressure"), EW_KIND_PRESSURE_GAUGE, 0, -5e4, 2e6,   \
    1,                                                                                             \
    "oil press|oilp|oil p|p oil|oeldruck|oel press|gallery press|press huile|press aceite|press "  \
    "olio|oliedruk|olie press")                                                                    \
  X(OIL_TEMPERATURE, "oil_temperature", EW_TEXT("oil temperature"), EW_KIND_TEMPERATURE, 0, 230,   \
    480, 1,                                                                                        \
    "oil temp|oilt|oil t|t oil|sump temp|oeltemperatur|oeltemp|oel temp|temp huile|temp "          \
    "aceite|temp olio|olietemperatuur|olietemp|olie temp")                                         \
  X(COOLANT_TEMPERATURE, "coolant_temperature", EW_TEXT("coolant temperature"),                    \
    EW_KIND_TEMPERATURE, 0, 230, 430, 1,                                                           \
    "coolant temp|water temp|clt|ect|coolant|t water|wassertemperatur|wassertemp|wasser "          \
    "temp|water out|water out temp|h 2 o|h 2 o temp|kuehlmitteltemperatur|kuehlmittel "            \
    "temp|kuehlwassertemperatur|kuehlwasser temp|temp eau|temp liquide refroidissement|temp "      \
    "refroidissement|temp agua|temp refrigerante|temp liquido refrigerante|temp acqua|temp "       \
    "liquido "                                                                                     \
    "raffreddamento|watertemperatuur|watertemp|koelwatertemperatuur|koelvloeistoftemperatuur|"     \
    "koelwater temp")                                                                              \
  X(HEAD_TEMPERATURE, "head_temperature", EW_TEXT("head temperature"), EW_KIND_TEMPERATURE, 0.5,   \
    230, 620, 1,                                                                                   \
    "head temp|cylinder head temp|cht|zylinderkopftemperatur|temp culasse|temp culata|temp "       \
    "testata|temp testa cilindri|cilinderkoptemperatuur")                                          \
  X(COOLANT_PRESSURE, "coolant_pressure", EW_TEXT("coolant pressure"), EW_KIND_PRESSURE_GAUGE, 0,  \
    -5e4, 6e5, 1,                                                                                  \
    "coolant press|water press|kuehlmitteldruck|kuehlwasserdruck|wasserdruck|press eau|press "     \
    "liquide refroidissement|press agua|press refrigerante|press acqua|waterdruk|koelwaterdruk")   \
  X(FUEL_PRESSURE, "fuel_pressure", EW_TEXT("fuel pressure"), EW_KIND_PRESSURE_GAUGE, 0, -5e4,     \
    3e7, 1,                                                                                        \
    "fuel press|fuelp|rail press|fuel p|kraftstoffdruck|benzindruck|kraftstoff press|press "       \
    "carburant|press essence|press combustible|press gasolina|press carburante|press "             \
    "benzina|brandstofdruk|benzinedruk")                                                           \
  X(FUEL_TEMPERATURE, "fuel_temperature", EW_TEXT("fuel temperature"), EW_KIND_TEMPERATURE, 0,     \
    230, 380, 1,                                                                                   \
    "fuel temp|kraftstofftemperatur|kraftstoff temp|temp carburant|temp essence|temp "             \
    "combustible|temp gasolina|temp carburante|temp benzina|brandstoftemperatuur")                 \
  X(INLET_AIR_TEMPERATURE, "inlet_air_temperature", EW_TEXT("inlet air temperature"),              \
    EW_KIND_TEMPERATURE, 0.5, 230, 380, 1,                                                         \
    "inlet air temp|inlet air|intake air temp|iat|air temp|inlet temp|dry bulb|carb air "          \
    "temp|carb "                                                                                   \
    "air|trockenkugel|bulbe sec|bulbo seco|bulbo secco|droge "                                     \
    "bol|ansauglufttemperatur|lufttemp|lufttemperatur|luft temp|ansaugluft|temp air|temp air "     \
    "admission|temp admission|temp aire|temp aire admision|temp admision|temp aria|temp aria "     \
    "aspirata|temp aspirazione|luchttemperatuur|lucht "                                            \
    "temp|inlaatluchttemperatuur|inlaattemperatuur")                                               \
  X(BAROMETER, "barometer", EW_TEXT("barometer"), EW_KIND_PRESSURE_ABSOLUTE, 0, 5e4, 1.1e5, 0,     \
    "barometer|baro|barometric press|ambient press|atmospheric press|station press|air "           \
    "press|cell press|luftdruck|umgebungsdruck|barometre|barometro|press atmospherique|press "     \
    "barometrique|press ambiante|press atmosferica|press barometrica|press "                       \
    "ambiente|luchtdruk|omgevingsdruk")                                                            \
  X(SEA_LEVEL_PRESSURE, "sea_level_pressure", EW_TEXT("pressure reduced to sea level"),            \
    EW_KIND_PRESSURE_ABSOLUTE, 0, 8e4, 1.1e5, 0,                                                   \
    "sea level press|qnh|slp|press sea level|msl|luftdruck meereshoehe|luftdruck nn|press niveau " \
    "mer|press nivel mar|press livello mare|luchtdruk zeeniveau")                                  \
  X(HUMIDITY, "humidity", EW_TEXT("relative humidity"), EW_KIND_RATIO, 0, 0, 1.05, 0,              \
    "humidity|relative humidity|rh|rel humidity|feuchte|relative "                                 \
    "feuchte|luftfeuchte|luftfeuchtigkeit|humidite|humidite relative|hygrometrie|humedad|humedad " \
    "relativa|umidita|umidita relativa|vochtigheid|luchtvochtigheid|relatieve vochtigheid")        \
  X(DEW_POINT, "dew_point", EW_TEXT("dew point"), EW_KIND_TEMPERATURE, 0, 220, 320, 0,             \
    "dew point|dewpoint|dew pt|taupunkt|taupunkttemperatur|point rosee|temp rosee|punto "          \
    "rocio|temp rocio|punto rugiada|temp rugiada|dauwpunt")                                        \
  X(WET_BULB, "wet_bulb", EW_TEXT("wet bulb"), EW_KIND_TEMPERATURE, 0, 220, 320, 0,                \
    "wet bulb|wet bulb temp|feuchtkugel|feuchtkugeltemperatur|bulbe humide|temp humide|bulbo "     \
    "humedo|bulbo umido|natte bol|nattebol")                                                       \
  X(VAPOUR_PRESSURE, "vapour_pressure", EW_TEXT("vapour pressure"), EW_KIND_PRESSURE_ABSOLUTE, 0,  \
    0, 12e3, 0,                                                                                    \
    "vapor press|vapour press|dampfdruck|press vapeur|press vapor|press vapore|dampdruk")          \
  X(EXHAUST_TEMPERATURE, "exhaust_temperature", EW_TEXT("exhaust temperature"),                    \
    EW_KIND_TEMPERATURE, 1.5, 230, 1500, 1,                                                        \
    "exhaust temp|egt|exhaust gas temp|exh temp|exhaust t|abgastemperatur|abgastemp|abgas "        \
    "temp|temp echappement|temp gaz echappement|temp escape|temp gases escape|temp scarico|temp "  \
    "gas scarico|uitlaattemperatuur|uitlaatgastemperatuur|uitlaat temp")                           \
  X(EXHAUST_FLOW, "exhaust_flow", EW_TEXT("exhaust flow"), EW_KIND_MASS_FLOW, 0, 0, 20, 1,         \
    "exhaust flow|exhaust mass flow")                                                              \
  X(CRANKCASE_PRESSURE, "crankcase_pressure", EW_TEXT("crankcase pressure"),                       \
    EW_KIND_PRESSURE_GAUGE, 0, -9e4, 2e5, 1,                                                       \
    "crankcase press|pan vacuum|pan vac|pan press|crankcase vacuum|crankcase vac|blow by "         \
    "press|crankcase|kurbelgehaeusedruck|kurbelgehaeuseunterdruck|press carter|depression "        \
    "carter|depresion carter|depressione carter|carterdruk|carteronderdruk")                       \
  X(BLOW_BY, "blow_by", EW_TEXT("blow-by"), EW_KIND_VOLUME_FLOW, 0, 0, 0.1, 1,                     \
    "blow by|blowby|blow by flow")                                                                 \
  X(KNOCK, "knock", EW_TEXT("knock count"), EW_KIND_COUNT, 0, 0, 1e6, 0,                           \
    "knock|knock count|knock "                                                                     \
    "counts|detonation|klopfen|klopfzaehler|cliquetis|detonacion|picado|detonazione|battito "      \
    "testa|pingelen|kloppen")                                                                      \
  X(SPARK, "spark", EW_TEXT("spark advance"), EW_KIND_ANGLE, 0, -40, 90, 1,                        \
    "spark|spark advance|timing|ignition timing|ignition angle|advance|ignition "                  \
    "advance|zuendwinkel|zuendzeitpunkt|vorzuendung|avance|avance allumage|avance "                \
    "encendido|anticipo|anticipo accensione|voorontsteking|ontstekingstijdstip|ontstekingshoek")   \
  X(BMEP, "bmep_given", EW_TEXT("BMEP as given"), EW_KIND_MEAN_EFFECTIVE_PRESSURE, 0, -2e5, 6e6,   \
    0, "bmep|max bmep")                                                                            \
  X(BSFC, "bsfc_given", EW_TEXT("BSFC as given"), EW_KIND_SPECIFIC_FUEL, 0, 0, 1e-5, 0,            \
    "bsfc|spezifischer verbrauch|spezifischer kraftstoffverbrauch|consommation "                   \
    "specifique|consumo especifico|consumo specifico|specifiek verbruik|specifiek "                \
    "brandstofverbruik")                                                                           \
  X(ABSORBER_WATER_TEMPERATURE, "absorber_water_temperature",                                      \
    EW_TEXT("absorber water temperature"), EW_KIND_TEMPERATURE, 0, 230, 400, 1,                    \
    "absorber water temp|absorber water|dyno water temp|brake water "                              \
    "temp|bremswassertemperatur|temp eau frein|temp agua freno|temp acqua "                        \
    "freno|remwatertemperatuur")

enum ew_channel {
#define X(id, key, label, kind, lag, low, high, curve, names) EW_CHANNEL_##id,
  EW_CHANNELS(X)
#undef X
      EW_CHANNELS_COUNT
};

struct ew_channel_facts {
  const char *key, *label;
  enum ew_kind kind;
  double usual_lag_s, low, high;
  gboolean in_curve;
  const char *names;
};
extern const struct ew_channel_facts ew_channel_facts[EW_CHANNELS_COUNT];

extern const char *const ew_channel_keys[EW_CHANNELS_COUNT + 1]; /* NULL-terminated */
G_STATIC_ASSERT(EW_CHANNELS_COUNT <= 64); /* sets of channels are kept as bits */

/* Its label as a word within messages. */
const struct ew_message_kind *ew_channel_word(enum ew_channel channel);

/* By its key ("oil_pressure"); EW_CHANNELS_COUNT when there is none. */
enum ew_channel ew_channel_by_key(const char *key);

/* Why a heading that names a channel is not taken for its reading: a target is not what was measured,
 * a wheel's speed is not the engine's, and what is corrected already is not corrected again. NULL when
 * nothing speaks against it. */
const struct ew_message_kind *ew_channel_excluded(const char *name);

/* Does the heading say that more of it is less pressure ("Pan Vac")? */
gboolean ew_channel_is_vacuum(const char *name);

/* What a column heading says. `strength` tells how sure: 0 nothing, up to 100 for the plain name.
 * `index` is the cylinder or bank that the name ends with, else 0. */
enum ew_channel ew_channel_by_name(const char *name, int *strength, int *index);
