// The first day of a new shop, at 1920.
import { dayOfANewShop } from './day_new_shop.mjs';

export default () => dayOfANewShop({ name: 'wall', viewport: { width: 1920, height: 1080 } });
