"""What a course of treatment cost, and to which course each thing used belongs."""
