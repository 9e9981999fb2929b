"""What every other room needs: values that come out, photos, files, words."""
