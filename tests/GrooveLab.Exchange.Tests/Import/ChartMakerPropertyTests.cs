using System.Globalization;
using CsCheck;
using GrooveLab.Exchange.Import;
using GrooveLab.Music.FromScore;
using GrooveLab.Music.Notation;
using Xunit;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>Random scores with repeats, endings, pickups, jumps, ties, words and changing meters play the same as their charts.</summary>
public sealed class ChartMakerPropertyTests
{
    private static readonly string[] Chords = ["@Am ", "@G ", "@F ", "@Dm ", ""];
    private static readonly (string Meter, int Units)[] Meters = [("4/4", 8), ("3/4", 6), ("3+2/8", 5), ("2+2+3/8", 7), ("6/8", 6)];
    private static readonly string[] Pitches = ["A3", "C4", "D4", "E4", "G4", "F#4", "Bb4", "z"];

    // A few measures come again and again, as in songs.
    private static readonly Gen<string[]> Score =
        from blocks in Block.Array[1, 4]
        from order in Gen.Int[0, 3].Array[0, 3]
        from fine in Gen.Int[0, 5]
        select Join([.. blocks, .. order.Select(block => blocks[block % blocks.Length] with { Words = blocks[block % blocks.Length].Words + 1 })], fine == 0);

    private static Gen<SongBlock> Block =>
        from meter in Gen.Int[0, 4]
        from measures in Measure.Array[2, 5]
        from reuse in Gen.Int[0, 4].Array[0, 4]
        from signs in Gen.Int[0, 6]
        from pickup in Gen.Int[0, 3]
        from words in Gen.Int[0, 3]
        select new SongBlock(Meters[meter], [.. measures, .. reuse.Select(one => measures[one % measures.Length])], signs, pickup, words);

    private static Gen<RandomMeasure> Measure =>
        from notes in Gen.Select(Gen.Int[0, 7], Gen.Int[1, 3], Gen.Int[0, 9]).Array[8]
        from chord in Gen.Int[0, 4]
        select new RandomMeasure(notes, chord);

    private sealed record SongBlock((string Meter, int Units) Meter, RandomMeasure[] Measures, int Signs, int Pickup, int Words);

    private sealed record RandomMeasure((int Pitch, int Units, int Extra)[] Notes, int Chord);

    [Fact]
    public void Make_RandomScore_PlaysTheSameMusic() => Score.Sample(
        measures =>
        {
            var music = SmallScore.Read(measures);
            var song = ChartMaker.Make(music, ImportedChartText.Options());
            if (song.TunePart is not null)
            {
                Same.AsTheScore(music, song);
            }

            Same.WhenRead(song);
        },
        iter: 2000,
        print: measures => string.Join('\n', measures));

    private static string[] Join(IReadOnlyList<SongBlock> blocks, bool isDaCapo)
    {
        var score = new List<string>();
        var meter = string.Empty;
        var number = 0;
        for (var b = 0; b < blocks.Count; b++)
        {
            var block = blocks[b];
            var head = block.Meter.Meter == meter ? string.Empty : block.Meter.Meter + " ";
            meter = block.Meter.Meter;
            var repeats = block.Signs is 1 or 2 or 3;
            var hasEndings = block.Signs == 2 && block.Measures.Length > 3;
            var verses = block.Words == 0 ? 0 : repeats && block.Words > 1 ? 2 : 1;
            var pickup = block.Pickup is 1 or 2 && !hasEndings ? block.Pickup : 0;
            if (pickup > 0)
            {
                score.Add($"{head}{(repeats ? "|: " : string.Empty)}len={pickup}/8 {Notes(block.Measures[0], pickup, verses, ref number)}");
                head = string.Empty;
            }

            for (var m = 0; m < block.Measures.Length; m++)
            {
                var isFirst = m == 0 && pickup == 0;
                var isLast = m == block.Measures.Length - 1;
                var length = block.Meter.Units - (isLast ? pickup : 0);
                var signs = (isFirst && repeats ? "|: " : string.Empty)
                    + (hasEndings && m == block.Measures.Length - 2 ? "[1 " : hasEndings && isLast ? "[2 " : string.Empty)
                    + (isLast && pickup > 0 ? $"len={length}/8 " : string.Empty);
                var after = (hasEndings && m >= block.Measures.Length - 2 ? " ]" : string.Empty)
                    + (hasEndings ? m == block.Measures.Length - 2 ? " :|" : string.Empty : repeats && isLast ? " :|" : string.Empty)
                    + (block.Signs == 4 && isLast ? " ||" : string.Empty)
                    + (isDaCapo && isLast && b == 0 && blocks.Count > 1 ? " fine" : string.Empty)
                    + (isDaCapo && isLast && b == blocks.Count - 1 && blocks.Count > 1 ? " dc" : string.Empty);
                score.Add($"{(isFirst ? head : string.Empty)}{signs}{Chords[block.Measures[m].Chord]}{Notes(block.Measures[m], length, verses, ref number)}{after}");
            }
        }

        return [.. score];
    }

    private static string Notes(RandomMeasure measure, int units, int verses, ref int number)
    {
        var text = new List<string>();
        var at = 0;
        for (var i = 0; at < units; i++)
        {
            var (pitch, length, extra) = measure.Notes[i % measure.Notes.Length];
            length = Math.Min(length, units - at);
            at += length;
            var name = Pitches[pitch];
            var isLast = at >= units;
            var note = $"{name}:{length}/8";
            if (name == "z")
            {
                text.Add(note);
                continue;
            }

            note = (extra == 0 ? "(B4)" : string.Empty) + note + (isLast && extra is 1 or 2 ? "-" : string.Empty);
            number++;
            var first = number;
            text.Add(verses == 0 || extra == 9 ? note : note + "=" + string.Join('/', Enumerable.Range(0, verses)
                .Select(verse => string.Create(CultureInfo.InvariantCulture, $"{(verse == 0 ? "la" : "lo")}{first % 7}{(extra is 3 or 4 && !isLast ? "-" : string.Empty)}"))));
        }

        return string.Join(' ', text);
    }
}
