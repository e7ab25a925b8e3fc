namespace GrooveLab.Screen;

/// <summary>
/// What is read at arm's length: words for singers and chords for players in letters of three rows, the line that follows, and whether the band
/// plays. Letters that cannot be drawn large are written with spaces between them.
/// </summary>
internal static class LargeViews
{
    // Columns between two words.
    private const int Gap = 3;

    /// <summary>Draws the view of words or chords.</summary>
    public static void Draw(Canvas canvas, ScreenState screen, bool small)
    {
        var (width, height) = (canvas.Width, canvas.Height);
        ScreenPicture.TopLine(canvas, screen, screen.Holding.Length > 0 ? screen.Holding : screen.NextSection);
        var row = 1;
        if (!small)
        {
            var trouble = screen.Health.Line(width / 2);
            canvas.WriteRight(width - 1, 1, trouble, Ink.Warning);
            canvas.Write(1, 1, Cells.Of(screen.Title), Ink.Plain, width - trouble.Length - 3);
            row = 2;
        }

        var keys = height - 1;
        var message = keys - 1;
        var wave = small ? 0 : 3;

        // An answer or the line being typed has a row; what is pending, or what the keys do, keeps the row above it.
        var hint = small ? screen.Hint : string.Empty;
        var isTold = screen.Typed is null && screen.Awaited.Exists(item => item.Says == screen.Message) && ScreenPicture.Awaiting(canvas, screen, message, message + 1);
        var isPending = screen.Awaited.Count > 0 && !isTold;
        var above = (screen.Typed is not null || (screen.Message.Length > 0 && !isTold)) && (isPending || hint.Length > 0) ? 1 : 0;
        var end = message - above;
        if (screen.Standing == Screen.Standing.Playing && screen.Hint.Length == 0)
        {
            if (wave > 0)
            {
                ScreenPicture.Wave(canvas, screen, row, wave);
            }

            ScreenPicture.Units(canvas, screen, row + wave);
        }
        else
        {
            Standing(canvas, screen, row, wave + 1);
        }

        row += wave + 1;
        if (screen.View == ScreenView.Words)
        {
            var at = canvas.Write(2, row, screen.Chord, Ink.Strong);
            at = canvas.Write(at + 2, row, screen.NextIn, Ink.Faint);
            canvas.Write(at + 1, row, screen.NextChord, Ink.Strong);
            Flow(canvas, screen, row + 1, end, WordsOf(screen, width - 2));
        }
        else
        {
            var below = small ? 1 : 2;
            Flow(canvas, screen, row, end - below, ChordsOf(screen));
            for (var line = 0; line < Math.Min(below, screen.Lines.Count); line++)
            {
                canvas.Write(2, end - below + line, Whole(Cells.Of(screen.Lines[line].Sentence), width - 3), line == 0 ? Ink.Plain : Ink.Faint, width - 1);
            }
        }

        if (above > 0)
        {
            if (isPending)
            {
                ScreenPicture.Awaiting(canvas, screen, end, message);
            }
            else
            {
                canvas.Write(1, end, Fitting(hint, width - 2), Ink.Plain, width - 1);
            }

            ScreenPicture.Bottom(canvas, screen, small, told: false, string.Empty, message, keys);
        }
        else if (screen.Awaited.Count > 0 && screen.Typed is null)
        {
            ScreenPicture.Awaiting(canvas, screen, message, message + 1);
            ScreenPicture.Keys(canvas, screen, keys);
        }
        else if (hint.Length > 0 && screen.Typed is null && screen.Over is null)
        {
            ScreenPicture.Keys(canvas, screen, keys);
            canvas.Write(1, message, Fitting(hint, width - 2), Ink.Plain, width - 1);
        }
        else
        {
            ScreenPicture.Bottom(canvas, screen, small, told: false, small ? ScreenPicture.Silent(screen, width - 2) : string.Empty, message, keys);
        }

        if (screen.Over is { } over)
        {
            ScreenPicture.Over(canvas, screen, over, keys);
        }
    }

    /// <summary>Draws whether the band plays where the arches are otherwise, and what pedal and keys do.</summary>
    public static void Standing(Canvas canvas, ScreenState screen, int top, int rows)
    {
        var word = screen.Standing switch
        {
            Screen.Standing.Ready => "READY",
            Screen.Standing.Starting => "STARTING",
            Screen.Standing.Stopping => "STOPPING",
            Screen.Standing.Stopped => "STOPPED",
            _ => "THE END",
        };
        var hint = screen.Hint.Length > 0 && rows > 1 ? 1 : 0;
        var next = screen.NextSong.Length > 0 && rows > hint + 1 ? "next: " + Cells.Of(screen.NextSong) : string.Empty;
        var letters = BigText.RowsIn(canvas);
        var wide = BigText.WidthOf(word);
        var row = top;
        if (rows - hint >= letters && wide < canvas.Width - 2)
        {
            row = top + ((rows - hint - (next.Length > 0 && rows - hint > letters ? 1 : 0) - letters) / 2);
            Letters(canvas, (canvas.Width - wide) / 2, row, word, Ink.Strong);
            row += letters;
        }
        else
        {
            var spaced = string.Join(' ', word.ToCharArray());
            canvas.Write(Math.Max(1, (canvas.Width - spaced.Length) / 2), row++, spaced, Ink.Strong);
        }

        if (next.Length > 0 && row < top + rows - hint)
        {
            canvas.Write(Math.Max(1, (canvas.Width - next.Length) / 2), row, next, Ink.Plain, canvas.Width - 1);
        }

        if (hint > 0)
        {
            var text = Fitting(screen.Hint, canvas.Width - 2);
            canvas.Write(Math.Max(1, (canvas.Width - text.Length) / 2), top + rows - 1, text, Ink.Plain, canvas.Width - 1);
        }
    }

    // Three spaces separate the keys; the last ones go first where there is no room.
    private static string Fitting(string hint, int room)
    {
        var keys = hint.Split("   ");
        var count = keys.Length;
        while (count > 1 && string.Join("   ", keys[..count]).Length > room)
        {
            count--;
        }

        return string.Join("   ", keys[..count]);
    }

    /// <summary>Draws the line that follows in letters of one row: its section if it begins one, chords, and words below them.</summary>
    /// <param name="canvas">The picture.</param>
    /// <param name="screen">What to show.</param>
    /// <param name="row">The first row.</param>
    /// <param name="rows">The rows that are free: with one, only the words, or the chords of a line without words.</param>
    /// <returns>The row after them.</returns>
    public static int Following(Canvas canvas, ScreenState screen, int row, int rows)
    {
        var isLeadIn = screen.Lines.Count > 0 && screen.At < (screen.Lines[0].Bars.Count > 0 ? screen.Lines[0].Bars[0].Ordinal : 0);
        var which = isLeadIn ? 0 : 1;
        if (rows <= 0 || which >= screen.Lines.Count)
        {
            return row + Math.Max(0, rows);
        }

        var line = screen.Lines[which];
        var most = Math.Max(12, canvas.Width / 3);
        var label = !line.StartsSection ? "next:" : Cells.Of(line.Announced).Length + 3 <= most ? Cells.Of(line.Announced) + ":" : Cells.Of(line.Section) + ":";
        var left = canvas.Write(2, row, label, line.StartsSection ? Ink.Pending : Ink.Faint, most) + 1;
        if (line.Bars.Count == 0)
        {
            return row + rows;
        }

        var sentence = Cells.Of(line.Sentence);
        if (rows == 1)
        {
            if (!line.StartsSection && left + sentence.Length > canvas.Width - 1)
            {
                left = 1;
            }

            canvas.Write(
                left, row, Whole(sentence.Length > 0 ? sentence : string.Join(" | ", line.Bars.Select(Symbols)), canvas.Width - 1 - left), Ink.Plain, canvas.Width - 1);
            return row + 1;
        }

        var chords = line.Bars.Select(Symbols).ToList();
        var words = line.Bars.Select((_, bar) => Cells.Of(string.Join(' ', line.Words.Where(word => word.Bar == bar).Select(word => word.Text)))).ToList();
        var widths = chords.Zip(words, (chord, sung) => Math.Max(chord.Length + 2, sung.Length + 1)).ToList();
        var isAligned = left + widths.Sum() + 1 <= canvas.Width;
        var at = left;
        for (var bar = 0; bar < chords.Count; bar++)
        {
            canvas.Write(at, row, chords[bar], Ink.Plain, canvas.Width - 1);
            if (isAligned)
            {
                canvas.Write(at, row + 1, words[bar], Ink.Plain, canvas.Width - 1);
            }

            at += isAligned ? widths[bar] : chords[bar].Length + 2;
            if (bar + 1 < chords.Count && !isAligned)
            {
                canvas.Put(at - 1, row, '|', Ink.Faint);
                at++;
            }
        }

        if (!isAligned)
        {
            var start = sentence.Length <= canvas.Width - 1 - left ? left : 2;
            canvas.Write(start, row + 1, Whole(sentence, canvas.Width - 1 - start), Ink.Plain, canvas.Width - 1);
        }

        return row + rows;
    }

    // As many whole words as fit; three dots stand for the others.
    private static string Whole(string sentence, int room)
    {
        const string More = " ...";
        if (sentence.Length <= room)
        {
            return sentence;
        }

        var at = room > More.Length ? sentence.LastIndexOf(' ', room - More.Length) : -1;
        return at > 0 ? sentence[..at] + More : sentence;
    }

    private static string Symbols(LineBar bar) => string.Join(' ', bar.Chords.Select(chord => chord.Text));

    // A word, as much of it as fits a row, or a chord.
    private readonly record struct Token(string Text, double At, int Line, bool StartsLine, string Label)
    {
        // The syllables of a word; empty for a chord.
        public IReadOnlyList<LineSyllable> Syllables { get; init; } = [];
    }

    // A word that is wider than the screen is divided between its syllables.
    private static IEnumerable<Token> Pieces(LineWord word, int line, bool isFirst, string label, int room)
    {
        var piece = new List<LineSyllable>();
        for (var i = 0; i < word.Syllables.Count; i++)
        {
            piece.Add(word.Syllables[i]);
            var isLast = i + 1 == word.Syllables.Count;
            if (isLast || TextWith(word.Syllables[i + 1], isLast: i + 2 == word.Syllables.Count) is var longer && !(LargeWidthOf(longer) is > 0 and var wide && wide <= room))
            {
                var begins = isFirst && piece[0] == word.Syllables[0];
                yield return new Token(TextWith(null, isLast), piece[0].At, line, begins, begins ? label : string.Empty) { Syllables = [.. piece] };
                piece.Clear();
            }
        }

        string TextWith(LineSyllable? next, bool isLast) =>
            Large(string.Concat(piece.Select(syllable => syllable.Text)) + next?.Text + (isLast ? string.Empty : "-"));
    }

    private static string Large(string text) => BigText.Capitals(text) ?? text;

    private static List<Token> WordsOf(ScreenState screen, int room)
    {
        var tokens = new List<Token>();
        for (var i = 0; i < screen.Lines.Count; i++)
        {
            var line = screen.Lines[i];
            var label = i > 0 && line.StartsSection ? line.Announced : string.Empty;
            if (line.Words.Count == 0 && line.Bars.Count > 0)
            {
                // A line without words: its chords, in small letters.
                tokens.Add(new Token(string.Empty, line.Bars[0].Ordinal, i, true, $"{(label.Length > 0 ? label + ": " : string.Empty)}{string.Join(" | ", line.Bars.Select(Symbols))}"));
            }
            else if (line.Bars.Count == 0)
            {
                tokens.Add(new Token(string.Empty, double.PositiveInfinity, i, true, line.Section));
            }

            tokens.AddRange(line.Words.SelectMany((word, at) => LargeWidthOf(Large(word.Text)) is > 0 and var wide && wide <= room
                ? [new Token(Large(word.Text), word.At, i, at == 0, at == 0 ? label : string.Empty) { Syllables = word.Syllables }]
                : Pieces(word, i, at == 0, label, room)));
        }

        return tokens;
    }

    private static List<Token> ChordsOf(ScreenState screen)
    {
        var tokens = new List<Token>();
        for (var i = 0; i < screen.Lines.Count; i++)
        {
            var line = screen.Lines[i];
            var label = i > 0 && line.StartsSection ? line.Announced : string.Empty;
            if (line.Bars.Count == 0)
            {
                tokens.Add(new Token(string.Empty, double.PositiveInfinity, i, true, line.Section));
            }

            for (var bar = 0; bar < line.Bars.Count; bar++)
            {
                var chords = line.Bars[bar].Chords;
                for (var chord = 0; chord < chords.Count; chord++)
                {
                    // A bar line stands before each bar but the first of a line.
                    var first = bar == 0 && chord == 0;
                    tokens.Add(new Token((bar > 0 && chord == 0 ? "|" : string.Empty) + chords[chord].Text, chords[chord].At, i, first, first ? label : string.Empty));
                }
            }
        }

        return tokens;
    }

    // Fills rows of large letters, a new row for each line; the row of the current word comes first, and those to come follow before they are needed.
    private static void Flow(Canvas canvas, ScreenState screen, int top, int end, List<Token> tokens)
    {
        var now = tokens.FindLastIndex(token => token.At <= screen.At);
        var rows = Rows(canvas, tokens);
        if (rows.Count == 0)
        {
            canvas.Write(2, top, "no words or chords to come", Ink.Faint, canvas.Width - 1);
            return;
        }

        var first = Math.Max(0, rows.FindLastIndex(candidate => candidate.From <= Math.Max(0, now)));
        var letters = BigText.RowsIn(canvas);
        var row = top;
        for (var i = first; i < rows.Count && row < end; i++)
        {
            var (from, count) = rows[i];
            var label = Cells.Of(tokens[from].Label);
            var isSmall = count == 1 && tokens[from].Text.Length == 0;
            if (isSmall || (label.Length > 0 && row + letters < end))
            {
                canvas.Write(2, row, isSmall ? Whole(label, canvas.Width - 3) : label + ":", Ink.Pending, canvas.Width - 1);
                row++;
            }

            if (isSmall)
            {
                continue;
            }

            if (row + letters > end)
            {
                // The rest in small letters.
                var text = string.Join(' ', tokens.GetRange(from, count).Select(token => token.Text));
                canvas.Write(2, row, Whole(Cells.Of(text), canvas.Width - 3), Ink.Plain, canvas.Width - 1);
                return;
            }

            var column = 1;
            for (var at = from; at < from + count; at++)
            {
                if (tokens[at].Syllables.Count > 0)
                {
                    Sing(canvas, screen.At, column, row, tokens[at], end);
                }
                else
                {
                    var ink = at == now ? Ink.Strong : at < now ? Ink.Faint : Ink.Plain;
                    Letters(canvas, column, row, tokens[at].Text, ink);
                    if (at == now)
                    {
                        // Not by brightness alone.
                        Underline(canvas, column, row + letters, WidthOf(canvas, tokens[at].Text), end);
                    }
                }

                column += WidthOf(canvas, tokens[at].Text) + Gap;
            }

            row += letters + 1;
        }
    }

    // The syllable that sounds is underlined, and nothing in a rest.
    private static void Sing(Canvas canvas, double now, int column, int row, Token word, int end)
    {
        var isLarge = FitsLarge(canvas, word.Text);
        var isSpaced = !isLarge && Cells.Spaced(word.Text).Length <= canvas.Width - 2;
        var letters = BigText.RowsIn(canvas);
        var left = column;
        for (var i = 0; i < word.Syllables.Count; i++)
        {
            var (text, at, until) = word.Syllables[i];
            var isNow = at <= now && now < until;
            var ink = isNow ? Ink.Strong : until <= now ? Ink.Faint : Ink.Plain;
            var isLast = i + 1 == word.Syllables.Count;
            text = isLarge ? Large(text) : isSpaced ? Cells.Spaced(text) : Cells.Of(text);
            var width = isLarge ? BigText.WidthOf(text) : text.Length;
            if (isLarge)
            {
                BigText.Draw(canvas, left, row, text, ink);
            }
            else
            {
                canvas.Write(left, row + (letters / 2), Cells.Cut(text, canvas.Width - 1 - left), ink);
            }

            if (isNow)
            {
                Underline(canvas, left, row + letters, Math.Min(width, canvas.Width - 1 - left), end);
            }

            left += width + (isLarge || isSpaced ? 1 : 0);
            if (isLast && word.Text.EndsWith('-') && !text.EndsWith('-'))
            {
                if (isLarge)
                {
                    BigText.Draw(canvas, left, row, "-", ink);
                }
                else
                {
                    canvas.Write(left, row + (letters / 2), "-", ink, canvas.Width - 1);
                }
            }
        }
    }

    private static bool FitsLarge(Canvas canvas, string text) => LargeWidthOf(text) is > 0 and var wide && wide <= canvas.Width - 2;

    private static void Underline(Canvas canvas, int column, int row, int width, int end)
    {
        for (var i = 0; i < width && row < end; i++)
        {
            canvas.Put(column + i, row, '─', Ink.Strong);
        }
    }

    private static List<(int From, int Count)> Rows(Canvas canvas, List<Token> tokens)
    {
        var rows = new List<(int From, int Count)>();
        var column = 1;
        for (var i = 0; i < tokens.Count; i++)
        {
            var width = WidthOf(canvas, tokens[i].Text);
            if (rows.Count == 0 || tokens[i].StartsLine || column + width > canvas.Width - 1 || tokens[i].Text.Length == 0)
            {
                rows.Add((i, 1));
                column = 1;
            }
            else
            {
                rows[^1] = (rows[^1].From, rows[^1].Count + 1);
            }

            column += width + Gap;
        }

        return rows;
    }

    /// <summary>Writes a word in letters of several rows, or in letters of one row if it does not fit.</summary>
    public static void Word(Canvas canvas, int column, int row, string text, Ink ink) => Letters(canvas, column, row, text, ink);

    // 0 if a letter is missing.
    private static int LargeWidthOf(string text) => BigText.WidthOf(text) is > 0 and var wide ? wide : BigText.Capitals(text) is { } capitals ? BigText.WidthOf(capitals) : 0;

    // What is too wide is written with letters of one row, and with spaces between them if it fits.
    private static int WidthOf(Canvas canvas, string text) => FitsLarge(canvas, text) ? LargeWidthOf(text)
        : Cells.Spaced(text).Length is var spaced && spaced <= canvas.Width - 2 ? spaced : Math.Min(Cells.Of(text).Length, canvas.Width - 2);

    private static void Letters(Canvas canvas, int column, int row, string text, Ink ink)
    {
        if (FitsLarge(canvas, text))
        {
            BigText.Draw(canvas, column, row, BigText.WidthOf(text) > 0 ? text : Large(text), ink);
        }
        else
        {
            var spaced = Cells.Spaced(text);
            canvas.Write(column, row + (BigText.RowsIn(canvas) / 2), spaced.Length <= canvas.Width - 2 ? spaced : Cells.Cut(Cells.Of(text), canvas.Width - 2), ink);
        }
    }
}
