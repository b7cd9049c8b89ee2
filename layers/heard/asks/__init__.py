"""What a line leaves open is asked: of what it speaks, which record, which word was left out."""
