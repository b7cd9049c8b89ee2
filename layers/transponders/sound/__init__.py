"""Sound in the water: profiles, rays, noise and hearing."""
