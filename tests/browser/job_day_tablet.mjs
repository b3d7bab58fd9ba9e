// The first day of a new shop, on a tablet.
import { dayOfANewShop } from './day_new_shop.mjs';

export default () => dayOfANewShop({ name: 'tablet', viewport: { width: 820, height: 1180 }, hasTouch: true });
