// The first day of a new shop, in German.
import { dayOfANewShop } from './day_new_shop.mjs';

export default () => dayOfANewShop({ name: 'german', locale: 'de-DE', viewport: { width: 1440, height: 900 } });
