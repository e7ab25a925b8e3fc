using System.Globalization;
using GrooveLab.Music.Band;
using GrooveLab.Music.Feel;

namespace GrooveLab.Screen;

/// <summary>
/// Draws the screen: the bar as a line of arches, one for each beat that is felt and as wide as it lasts, with a point
/// that rides it and lands on every beat; below it units, words, the chord now and the next; then the band and the pending changes.
/// </summary>
internal static class ScreenPicture
{
    // Two rhythms and an empty row.
    private const int PairRows = 3;

    /// <summary>The smallest size that is drawn; below it only a line of text is shown.</summary>
    public const int FewestColumns = 30;

    /// <summary>The smallest number of rows.</summary>
    public const int FewestRows = 8;

    private static readonly string Levels = " ▁▂▃▄▅▆▇█";

    /// <summary>Draws.</summary>
    public static void Draw(Canvas canvas, ScreenState screen)
    {
        var (width, height) = (canvas.Width, canvas.Height);
        if (width < FewestColumns || height < FewestRows)
        {
            var number = screen.SongNumber;
            canvas.Write(0, 0, Cells.Of(screen.Where), Ink.Strong, width - (number.Length > 0 ? number.Length + 1 : 0));
            canvas.WriteRight(width, 0, number, Ink.Plain);
            canvas.Write(0, 1, screen.Chord + " > " + screen.NextChord, Ink.Plain);
            canvas.Write(0, 2, screen.Health.Line(width), Ink.Warning);
            return;
        }

        var small = width < 60 || height < 20;
        if (screen.Taps is { } taps)
        {
            TapView.Draw(canvas, screen, taps, small);
            return;
        }

        if (screen.View != ScreenView.Band)
        {
            LargeViews.Draw(canvas, screen, small);
            return;
        }

        var row = Head(canvas, screen, small);
        var roomy = height >= 28 ? 1 : 0;
        var wave = small ? Math.Clamp(height - 9, 2, 8) : Math.Clamp(height - 14 - roomy - screen.Band.Count, 3, 11);
        var crowded = small && wave > 2 && IsCrowded(canvas, screen) ? 1 : 0;
        var paired = screen.Pair is null || small || screen.Standing is not Standing.Playing ? 0 : height - 14 - roomy - screen.Band.Count - PairRows >= 3 ? PairRows : 0;
        wave = paired > 0 ? Math.Clamp(height - 14 - roomy - screen.Band.Count - paired, 3, wave) : wave;
        wave -= crowded;
        if (screen.Standing is Standing.Playing && screen.Hint.Length == 0)
        {
            Wave(canvas, screen, row, wave);
            Units(canvas, screen, row + wave);
        }
        else
        {
            LargeViews.Standing(canvas, screen, row, wave + 1);
        }

        row += wave + 1;
        if (screen.Words.Count > 0 || !small || height > 11)
        {
            // The large screen has an empty row below the words; the small one gives a row of the arches when it must.
            Words(canvas, screen, row, small ? crowded + 1 : 2);
            row += 1 + crowded;
        }

        if (paired > 0)
        {
            screen.Pair!.Draw(canvas, row + 1, screen.InBar);
            row += paired;
        }

        row = small ? SmallChords(canvas, screen, row) : Chords(canvas, screen, row + 1);
        var free = row;
        var keys = small ? Math.Max(row + 1, height - 2) : height - 1;
        var message = keys - 1;
        if (!small)
        {
            row = LargeViews.Following(canvas, screen, row, 2) + roomy;
            row = Band(canvas, screen, row, message - 1);
        }

        if (!small && screen.Awaited.Count == 0 && row < message)
        {
            canvas.Write(1, message - 1, Cells.Of(screen.InStore.Length <= width - 2 ? screen.InStore : screen.InStore.Split(';')[0]), Ink.Pending, width - 1);
        }

        var told = Awaiting(canvas, screen, small ? row : message - 1, message);
        var silent = small ? Silent(screen, width - 2) : string.Empty;
        if (screen.Awaited.Count == 0 && row < message)
        {
            canvas.Write(1, row, silent, Ink.Faint);
            silent = string.Empty;
        }

        if (small && screen.Awaited.Count == 0)
        {
            // Rows that are free for a moment: the next line of words, and its chords where there is room.
            var isFree = screen.Message.Length == 0 && screen.Typed is null && screen.Health.IsGood && silent.Length == 0;
            var next = row + (Silent(screen, width - 2).Length > 0 ? 1 : 0);
            LargeViews.Following(canvas, screen, next, (isFree ? message + 1 : message) - next);
        }

        Bottom(canvas, screen, small, told, silent, message, keys, free);
        if (screen.Over is { } over)
        {
            Over(canvas, screen, over, keys);
        }
    }

    private static int Head(Canvas canvas, ScreenState screen, bool small)
    {
        var width = canvas.Width;
        if (small)
        {
            TopLine(canvas, screen, screen.Holding.Length > 0 ? screen.Holding : screen.NextSection);
            return 1;
        }

        // The place changes and matters more than the title, which has the room that is left.
        var place = Place(Cells.Of(screen.Where), width * 2 / 3);
        TitleAndSong(canvas, screen, 0, Ink.Strong, width - 1 - place.Length - 3);
        canvas.WriteRight(width - 1, 0, place, Ink.Strong);
        var at = canvas.Write(1, 1, screen.Tempo, Ink.Strong);
        canvas.Write(at + 3, 1, screen.BeatAdvice.Length <= width - 1 - at - 3 ? screen.BeatAdvice : Brief(screen.BeatAdvice), Ink.Plain, width - 1);
        var dots = screen.GroupPlace.Size > 1 && screen.Tempo.Length > 0 ? 2 * screen.GroupPlace.Size : 0;
        var room = width - dots - 4;

        // The MIDI ports come first in the row, and their problems are among the others behind them.
        var links = Cells.Cut(Cells.Of(screen.Links), room / 2);
        canvas.Write(dots + 2, 2, links, Ink.Faint);
        canvas.WriteRight(width - 1, 2, screen.Health.Line(room - (links.Length > 0 ? links.Length + 2 : 0)), Ink.Warning);
        if (screen.GroupPlace is { Size: > 1 } group && screen.Tempo.Length > 0)
        {
            // The bars of the group; those that have begun are filled.
            for (var bar = 0; bar < group.Size; bar++)
            {
                canvas.Put(1 + (2 * bar), 2, bar <= group.Index ? '●' : '○', bar == group.Index ? Ink.Strong : Ink.Faint);
            }
        }


        return 3;
    }

    /// <summary>Writes the first line where there is no room for the title: the place in the song, what comes, and the place in the set.</summary>
    internal static void TopLine(Canvas canvas, ScreenState screen, string coming)
    {
        var width = canvas.Width;
        var number = screen.SongNumber;
        var edge = width - 1 - (number.Length > 0 ? number.Length + 2 : 0);
        var end = canvas.Write(1, 0, Place(Cells.Of(screen.Where), edge - 1), Ink.Strong, edge);
        if (coming.Length == 0 && (width < 60 || canvas.Height < 20) && screen.Standing is Standing.Ready or Standing.Stopped or Standing.Ended)
        {
            // While nothing plays, the title tells which song it is.
            var room = edge - end - 2;
            coming = Cells.Of(screen.Title).Length <= room || room < FewestOfTitle ? screen.Title : Cells.Cut(Cells.Of(screen.Title), room);
            canvas.WriteRight(edge, 0, Cells.Of(coming).Length <= room ? Cells.Of(coming) : string.Empty, Ink.Plain);
            canvas.WriteRight(width - 1, 0, number, Ink.Plain);
            return;
        }

        var next = Cells.Of(coming);
        next = next.Length < edge - end - 2 ? next : next.Split(':')[0];
        next = next.Length < edge - end - 2 ? next : string.Empty;
        var song = next.Length == 0 && screen.Song.Length < width - end - 3 ? screen.Song : number;
        canvas.WriteRight(width - 1, 0, song, Ink.Plain);
        canvas.WriteRight(edge, 0, next, Ink.Pending);
    }

    /// <summary>Writes the title and the place in the set; the title is what is cut.</summary>
    internal static void TitleAndSong(Canvas canvas, ScreenState screen, int row, Ink ink, int end)
    {
        var song = screen.Song.Length == 0 ? string.Empty : $"  ({screen.Song})";
        song = song.Length <= (end - 1) / 2 || song.Length == 0 ? song : $"  {screen.SongNumber}";
        var at = canvas.Write(1, row, Cells.Of(screen.Title), ink, end - song.Length);
        canvas.Write(at, row, song, ink, end);
    }

    // The bar matters most: a name that is too long is cut before it.
    internal static string Place(string where, int room)
    {
        var comma = where.LastIndexOf(',');
        return where.Length <= room || comma < 0 || room - (where.Length - comma) < 2
            ? where
            : Cells.Cut(where[..comma], room - (where.Length - comma)) + where[comma..];
    }

    private const int FewestOfTitle = 6;

    private static int Left => 2;

    private static int Right(Canvas canvas) => canvas.Width - 3;

    // The line of arches spans the bar; where bar groups are felt, all bars of the group.
    private static (int Bars, double At) Stretch(ScreenState screen) => screen.Felt == FeltLevel.BarGroup
        ? (Math.Max(1, screen.GroupPlace.Size), (screen.GroupPlace.Index + screen.InBar) / Math.Max(1, screen.GroupPlace.Size))
        : (1, screen.InBar);

    internal static void Wave(Canvas canvas, ScreenState screen, int top, int rows)
    {
        if (screen.Meter is not { } meter)
        {
            return;
        }

        var (left, right) = (Left, Right(canvas));
        var columns = right - left;
        var (bars, at) = Stretch(screen);
        var arches = Arches(screen, meter.Units, meter.GroupSizes, bars);
        var longest = arches.Max();
        var total = arches.Sum();
        var point = left + (int)Math.Round(at * columns);
        var arch = 0;
        var from = 0.0;
        for (var column = 0; column <= columns; column++)
        {
            // At the middle of the cell.
            var place = (double)column / columns * total;
            while (arch < arches.Count - 1 && place >= from + arches[arch])
            {
                from += arches[arch++];
            }

            var inside = Math.Clamp((place - from) / arches[arch], 0, 1);

            // The path of a ball between two landings: longer is higher, and among equal ones the first of a group is higher.
            var share = screen.Felt == FeltLevel.Unit
                ? (meter.GroupStartUnits.Contains(arch) ? 1 : 0.7)
                : 0.35 + (0.65 * arches[arch] / longest);
            var tall = (rows * 8 * share) - 8;
            var y = (int)Math.Round(Math.Max(1, tall * 4 * inside * (1 - inside)));
            var behind = left + column <= point;
            Column(canvas, left + column, top + rows - 1, y, behind);
            if (left + column == point && !screen.Ended)
            {
                canvas.Put(point, top + rows - 1 - Math.Min(rows - 1, (y + 7) / 8), '●', Ink.Point);
            }
        }

        // The bar line at which the next bar begins, and the changes pending there.
        for (var y = 0; y < rows; y++)
        {
            canvas.Put(right + 1, top + y, '│', Ink.Faint);
        }

        var waiting = screen.Awaited.FindIndex(item => item.AtNextLine);
        if (waiting >= 0)
        {
            var says = Cells.Of(Brief(screen.Awaited[waiting].Says));
            canvas.WriteRight(right + 1, top, says.Length + 2 <= right - left ? says + " ▶" : "▶", Ink.Pending);
        }
    }

    private static void Column(Canvas canvas, int column, int bottom, int eighths, bool behind)
    {
        var ink = behind ? Ink.Passed : Ink.Ahead;
        for (var y = 0; y * 8 < eighths; y++)
        {
            var filled = Math.Min(8, eighths - (y * 8));
            var sign = behind ? Levels[filled] : filled == 8 ? '░' : filled >= 4 ? '░' : Levels[filled];
            canvas.Put(column, bottom - y, sign, ink);
        }
    }

    private static List<double> Arches(ScreenState screen, int units, IReadOnlyList<int> groups, int bars) => screen.Felt switch
    {
        FeltLevel.Unit => [.. Enumerable.Repeat(1.0, units)],
        FeltLevel.Group => [.. groups.Select(size => (double)size)],
        FeltLevel.Bar => [1.0],
        _ => [.. Enumerable.Repeat(1.0, bars)],
    };

    internal static void Units(Canvas canvas, ScreenState screen, int row)
    {
        if (screen.Meter is not { } meter)
        {
            return;
        }

        var (left, right) = (Left, Right(canvas));
        var (bars, at) = Stretch(screen);
        var count = meter.Units * bars;
        var now = (int)Math.Floor(at * count);
        var room = (right - left) / (double)count;
        for (var unit = 0; unit < count; unit++)
        {
            var column = left + (int)Math.Round((right - left) * (double)unit / count);
            var inBar = unit % meter.Units;
            var isBeat = screen.Felt switch
            {
                FeltLevel.Unit => true,
                FeltLevel.Group => meter.GroupStartUnits.Contains(inBar),
                _ => inBar == 0,
            };
            var starts = meter.GroupStartUnits.Contains(inBar);
            if (isBeat && room >= 2)
            {
                var number = screen.Felt switch
                {
                    FeltLevel.Unit => inBar + 1,
                    FeltLevel.Group => meter.GroupOf(inBar) + 1,
                    _ => (screen.Felt == FeltLevel.Bar ? screen.GroupPlace.Index : unit / meter.Units) + 1,
                };
                var isNow = screen.Felt switch
                {
                    FeltLevel.Unit => unit == now,
                    FeltLevel.Group => meter.GroupOf(inBar) == meter.GroupOf(Math.Clamp(now, 0, count - 1) % meter.Units),
                    FeltLevel.Bar => true,
                    _ => unit / meter.Units == now / meter.Units,
                };
                var text = number.ToString(CultureInfo.InvariantCulture);
                if (isNow && room >= 4)
                {
                    canvas.Write(Math.Max(0, column - 1), row, $"[{text}]", Ink.Strong);
                }
                else
                {
                    canvas.Write(column, row, text, isNow ? Ink.Strong : starts ? Ink.Plain : Ink.Faint);
                }
            }
            else
            {
                canvas.Put(column, row, starts ? '|' : '·', starts ? Ink.Plain : Ink.Faint);
            }
        }
    }

    // Each word stands below its note. Where a word has no room beside the one before it, it stands one row lower; where even that is too narrow,
    // the words that are sung are left out in favour of those to come.
    private static void Words(Canvas canvas, ScreenState screen, int row, int rows)
    {
        var (left, right) = (Left, Right(canvas));
        var words = screen.Words;
        var now = -1;
        Span<int> places = stackalloc int[words.Count];
        for (var i = 0; i < words.Count; i++)
        {
            now = screen.InBar >= words[i].At ? i : now;
            var along = screen.Felt == FeltLevel.BarGroup ? (screen.GroupPlace.Index + words[i].At) / Math.Max(1, screen.GroupPlace.Size) : words[i].At;

            // The last word may begin before its note, so that it ends on the screen.
            places[i] = Math.Max(1, Math.Min(left + (int)Math.Round((right - left) * along), canvas.Width - 1 - Cells.Of(words[i].Text).Length));
        }

        Span<int> free = stackalloc int[rows];
        for (var first = 0; first <= Math.Max(0, now); first++)
        {
            free.Clear();
            var count = 0;
            while (first + count < words.Count && RowFor(places[first + count], free) is >= 0 and var fits)
            {
                free[fits] = places[first + count] + Cells.Of(words[first + count].Text).Length + 1;
                count++;
            }

            if (first + count < words.Count && first < now)
            {
                continue;
            }

            free.Clear();
            for (var i = first; i < first + count; i++)
            {
                var at = RowFor(places[i], free);
                free[at] = canvas.Write(places[i], row + at, Cells.Of(words[i].Text), i == now ? Ink.Strong : Ink.Plain, canvas.Width - 1) + 1;
            }

            return;
        }
    }

    // Whether the words of the section need a second row.
    private static bool IsCrowded(Canvas canvas, ScreenState screen)
    {
        var bars = screen.Felt == FeltLevel.BarGroup ? Math.Max(1, screen.GroupPlace.Size) : 1;
        return screen.WordColumns > (Right(canvas) - Left) / (double)bars;
    }

    // The first row that is free from a column on; -1 for none.
    private static int RowFor(int column, Span<int> free)
    {
        for (var row = 0; row < free.Length; row++)
        {
            if (free[row] <= column)
            {
                return row;
            }
        }

        return -1;
    }

    private static int Chords(Canvas canvas, ScreenState screen, int row)
    {
        var next = screen.NextChord.Length == 0 ? string.Empty : screen.NextChord;
        var wide = canvas.Ascii ? 0 : BigText.WidthOf(screen.Chord);
        if (wide == 0)
        {
            canvas.Write(2, row + 1, screen.Chord, Ink.Strong);
            wide = screen.Chord.Length;
        }
        else
        {
            BigText.Draw(canvas, 2, row, screen.Chord, Ink.Strong);
        }

        var at = Math.Max(canvas.Width / 3, wide + 6);
        canvas.Write(at, row, screen.NextIn, Ink.Plain);
        var nextWide = canvas.Ascii ? 0 : BigText.WidthOf(next);
        if (next.Length > 0 && nextWide > 0 && at + screen.NextIn.Length + 3 + nextWide < canvas.Width - 20)
        {
            BigText.Draw(canvas, at + screen.NextIn.Length + 3, row, next, Ink.Faint);
        }
        else
        {
            canvas.Write(at + screen.NextIn.Length + 3, row, next, Ink.Strong);
        }

        canvas.WriteRight(canvas.Width - 1, row + 2, Cells.Of(screen.NextSection), Ink.Pending);
        if (screen.Holding.Length > 0)
        {
            canvas.WriteRight(canvas.Width - 1, row + 1, Cells.Of(screen.Holding), Ink.Pending);
        }

        return row + BigText.Rows;
    }

    private static int SmallChords(Canvas canvas, ScreenState screen, int row)
    {
        var at = canvas.Write(2, row, screen.Chord, Ink.Strong);
        at = canvas.Write(at + 2, row, screen.NextIn, Ink.Faint);
        canvas.Write(at + 1, row, screen.NextChord, Ink.Strong);
        var tempo = screen.Tempo;
        if (tempo.Length > canvas.Width - 3 && tempo.IndexOf(',', StringComparison.Ordinal) is var comma and > 0)
        {
            tempo = tempo.Split(' ')[0] + tempo[comma..];
        }

        var end = canvas.Write(2, row + 1, tempo, Ink.Strong, canvas.Width - 1) + 2;
        var advice = screen.BeatAdvice.Length <= canvas.Width - 1 - end ? screen.BeatAdvice : Brief(screen.BeatAdvice);
        if (advice.Length <= canvas.Width - 1 - end)
        {
            canvas.Write(end, row + 1, advice, Ink.Plain);
        }

        return row + 2;
    }

    private static int Band(Canvas canvas, ScreenState screen, int row, int end)
    {
        // If there is no room for all parts, the selected one is among those shown.
        var first = Math.Max(0, Math.Min(screen.Selected, screen.Band.Count - 1) - Math.Max(0, end - row - 1));
        for (var i = first; i < screen.Band.Count && row < end; i++, row++)
        {
            var player = screen.Band[i];
            var selected = i == screen.Selected;
            canvas.Put(1, row, selected ? '▶' : ' ', Ink.Strong);
            canvas.Write(3, row, (i + 1).ToString(CultureInfo.InvariantCulture), Ink.Key);
            var ink = player.Silent ? Ink.Faint : selected ? Ink.Strong : Ink.Plain;
            canvas.Write(5, row, Cells.Of(player.Name), ink, 24);
            canvas.Write(25, row, Does(player, canvas.Width - 9 - 25), player.Silent ? Ink.Faint : Ink.Plain, canvas.Width - 9);
            canvas.WriteRight(canvas.Width - 1, row, player.Silent ? "(silent)" : player.Level, ink);
        }

        return row;
    }

    private static string Does(Player player, int room)
    {
        var does = player.Instrument.Length == 0 ? player.Does : $"{Cells.Of(player.Instrument)}: {player.Does}";
        return does.Length <= room ? does : does.Split(',')[0];
    }

    // The small screen has no room for the band, but who is silent must be seen.
    internal static string Silent(ScreenState screen, int room)
    {
        if (!screen.Band.Any(player => player.Silent))
        {
            return string.Empty;
        }

        var silent = screen.Band.Where(player => player.Silent).Select(player => Cells.Of(player.Name)).ToList();
        var text = "silent: " + string.Join(", ", silent);
        var heard = screen.Band.Where(player => !player.Silent).Select(player => Cells.Of(player.Name)).ToList();
        var alone = "only " + string.Join(", ", heard);
        return text.Length <= room ? text : heard.Count > 0 && alone.Length <= room ? alone : $"silent: {silent.Count} of {screen.Band.Count} parts";
    }

    // Returns true if the current message is among the problems shown here.
    internal static bool Awaiting(Canvas canvas, ScreenState screen, int row, int end)
    {
        if (row >= end || screen.Awaited.Count == 0)
        {
            return false;
        }

        var told = false;

        var at = 1;
        for (var i = 0; i < screen.Awaited.Count; i++)
        {
            var item = screen.Awaited[i] with { Says = Cells.Of(screen.Awaited[i].Says) };
            var same = i > 0 && item.Wait == screen.Awaited[i - 1].Wait;
            at -= same ? 2 : 0;
            var room = canvas.Width - 1 - at - (same ? 0 : item.Wait.Length) - 2 - (i + 1 < screen.Awaited.Count ? MoreColumns : 0);
            if (i > 0 && item.Says.Length > room)
            {
                var left = screen.Awaited.Count - i;
                at += same ? 2 : 0;
                canvas.Write(at - 1, row, at + MoreColumns + 8 < canvas.Width ? $"  and {left} more" : $" +{left}", Ink.Pending);
                break;
            }

            var says = item.Says.Length <= room ? item.Says : Brief(item.Says);
            told |= says == Cells.Of(screen.Message) && says.Length <= room;
            if (says.Length > room)
            {
                at = canvas.Write(at, row, "a change ", Ink.Pending);
                at = canvas.Write(at, row, item.Wait, Ink.Pending) + 2;
                continue;
            }

            at = same ? at : canvas.Write(at, row, item.Wait, Ink.Pending);
            at = canvas.Write(at, row, same ? ", " : ": ", Ink.Pending);
            at = canvas.Write(at, row, says, Ink.Pending) + 2;
        }

        return told;
    }

    // Room for " +3" or more.
    private const int MoreColumns = 4;

    // The first words matter most.
    private static string Brief(string text) => text.Split(';')[0];

    internal static void Keys(Canvas canvas, ScreenState screen, int keys)
    {
        var row = keys;
        var column = 1;
        foreach (var (key, does) in screen.Keys)
        {
            if (column + key.Length + does.Length + 1 > canvas.Width)
            {
                if (row + 1 >= canvas.Height)
                {
                    return;
                }

                row++;
                column = 1;
            }

            column = canvas.Write(column, row, key, Ink.Key);
            column = canvas.Write(column + 1, row, does, Ink.Plain) + 2;
        }
    }

    internal static void Bottom(Canvas canvas, ScreenState screen, bool small, bool told, string silent, int message, int keys, int free = 0)
    {
        Keys(canvas, screen, keys);
        if (screen.Typed is { } letters)
        {
            Typed(canvas, screen, letters, message);
            return;
        }

        // Pending changes are shown in their own line, where there is room for all of them.
        var text = told || screen.Over is not null ? string.Empty : Cells.Of(screen.Message);
        var ink = screen.MessageWarns ? Ink.Warning : Ink.Plain;
        if (text.Length == 0 && small && screen.Over is null && !screen.Health.IsGood)
        {
            (text, ink) = (screen.Health.Line(canvas.Width - 2), Ink.Warning);
        }

        if (text.Length == 0 && screen.Over is null)
        {
            (text, ink) = (silent, Ink.Faint);
        }

        // A long message covers the keys while it is shown, but not the chords; the list has all of it.
        if (text.Length == 0)
        {
            return;
        }

        var lines = Wrapped(text, canvas.Width - 2);
        if (lines.Count > canvas.Height - free)
        {
            const string More = " ... ?: all";
            lines = lines[..Math.Max(1, canvas.Height - free)];
            var last = lines[^1];
            lines[^1] = (last.Length <= canvas.Width - 2 - More.Length ? last : last[..Math.Max(0, last.LastIndexOf(' ', canvas.Width - 2 - More.Length))]) + More;
        }

        var top = lines.Count > canvas.Height - message ? Math.Max(0, canvas.Height - lines.Count) : message;
        for (var i = 0; i < lines.Count && top + i < canvas.Height; i++)
        {
            canvas.Write(0, top + i, new string(' ', canvas.Width), Ink.Plain);
        }

        for (var i = 0; i < lines.Count && top + i < canvas.Height; i++)
        {
            canvas.Write(1, top + i, lines[i], ink, canvas.Width - 1);
        }
    }

    // Around the caret, which is a bar between two letters, or a line after the last.
    private static void Typed(Canvas canvas, ScreenState screen, string letters, int row)
    {
        for (var column = 0; column < canvas.Width; column++)
        {
            canvas.Put(column, row, ' ', Ink.Plain);
        }

        var at = canvas.Write(1, row, "change: ", Ink.Key);
        var caret = Math.Min(screen.TypedCaret, letters.Length);
        var (before, behind) = (Cells.Of(letters[..caret]), Cells.Of(letters[caret..]));
        var room = canvas.Width - at - 2;
        var from = Math.Max(0, before.Length - Math.Max(room * 2 / 3, room - behind.Length));
        at = canvas.Write(at, row, before.AsSpan(from), Ink.Strong);
        at = canvas.Write(at, row, behind.Length > 0 ? "|" : "_", Ink.Point);
        canvas.Write(at, row, behind, Ink.Strong);
        if (screen.Completions.Length == 0)
        {
            return;
        }

        var lines = Wrapped(Cells.Of(screen.Completions), canvas.Width - 2).Take(Math.Max(1, canvas.Height / 4)).ToList();
        for (var i = 0; i < lines.Count; i++)
        {
            var line = row - lines.Count + i;
            canvas.Write(0, line, new string(' ', canvas.Width), Ink.Plain);
            canvas.Write(1, line, lines[i], Ink.Plain, canvas.Width - 1);
        }
    }

    private static List<string> Wrapped(string text, int width)
    {
        var lines = new List<string>();
        while (text.Length > width)
        {
            var at = text.LastIndexOf(' ', width);
            at = at > 0 ? at : text[width] == Cells.Filler ? Math.Max(1, width - 1) : width;
            lines.Add(text[..at]);
            text = text[at..].TrimStart();
        }

        if (text.Length > 0)
        {
            lines.Add(text);
        }

        return lines;
    }

    internal static void Over(Canvas canvas, ScreenState screen, IReadOnlyList<string> lines, int end)
    {
        screen.OverSize = (canvas.Width, end);
        for (var row = 0; row < end; row++)
        {
            for (var column = 0; column < canvas.Width; column++)
            {
                canvas.Put(column, row, ' ', Ink.Plain);
            }
        }

        for (int row = 0, i = screen.OverFrom; row < end && i < lines.Count; i++)
        {
            var pieces = Pieces(lines[i], canvas.Width);
            foreach (var (below, column, text) in pieces.Where(piece => row + piece.Row < end))
            {
                canvas.Write(column, row + below, text, Ink.Plain);
            }

            row += pieces[^1].Row + 1;
        }
    }

    /// <summary>How many rows a line of the list takes at a width.</summary>
    internal static int RowsOf(string line, int width) => Pieces(line, width)[^1].Row + 1;

    // If an entry is too wide for one line, its description goes below it.
    private static List<(int Row, int Column, string Text)> Pieces(string text, int width)
    {
        const int Indent = 10;
        var line = Cells.Of(text);
        var gap = line.TrimEnd().LastIndexOf("  ", StringComparison.Ordinal);
        if (line.Length < width)
        {
            return [(0, 1, line)];
        }

        if (gap <= 2)
        {
            // A sentence.
            var indent = line.Length - line.TrimStart().Length;
            return [.. Wrapped(line.Trim(), width - 2 - indent).Select((piece, row) => (row, 1 + indent, piece))];
        }

        var left = line[..gap].TrimEnd();
        var first = left.Length + 2 < Indent ? 0 : 1;
        return [(0, 1, left), .. Wrapped(line[gap..].Trim(), width - Indent).Select((piece, row) => (first + row, Indent, piece))];
    }
}
