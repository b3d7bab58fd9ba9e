// The first day of a new shop, by keyboard alone.
import { dayOfANewShop } from './day_new_shop.mjs';

export default () => dayOfANewShop({ name: 'keys', keys: true, viewport: { width: 1440, height: 900 } });
