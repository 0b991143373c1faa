"""Every notation that is read, as lark grammars: chart lines, chord symbols, patterns."""
