"""Publications that thresholds come from, named once."""

PLAN_2010 = "single-family residential dry well standard plan of a soil conservation district, July 2010"
MINNESOTA = "Minnesota Stormwater Manual"
NEW_JERSEY = "New Jersey Stormwater BMP Manual chapter 9.3, Dry Wells (February 2016)"
VIRGINIA = "Virginia DEQ Stormwater Design Specification No. 8, Infiltration"
