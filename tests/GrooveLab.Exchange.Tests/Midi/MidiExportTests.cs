using System.Globalization;
using GrooveLab.Exchange.Midi;
using GrooveLab.Exchange.Tests.Charts;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Midi;

/// <summary>The content of an exported file: places, times, channels, words.</summary>
public sealed class MidiExportTests
{
    public static TheoryData<string> Names => [.. Exports.Presets.Concat(Exports.OddMeters)];

    [Theory]
    [MemberData(nameof(Names))]
    public void Of_WithoutFeel_EveryOnsetIsOnItsExactTick(string name)
    {
        var export = Exports.Of(name);
        Assert.DoesNotContain(export.Exact.Remarks, remark => remark.Contains("nearest", StringComparison.Ordinal));
        var lines = Exports.BarTicks(export);
        for (var part = 0; part < export.Band.Band.Count; part++)
        {
            var expected = new SortedSet<(long Tick, int Key)>();
            foreach (var (i, bar) in export.Bars.Index())
            {
                foreach (var note in bar.Notes.Where(note => note.Part == part && !note.IsGrace))
                {
                    // A tick is a fixed fraction of the written bar, wherever the bar is.
                    var ticks = note.Onset / bar.Length * (lines[i + 1] - lines[i]);
                    Assert.True(ticks.IsInteger);
                    expected.Add((lines[i] + ticks.Numerator, note.Key));
                }
            }

            var graces = export.Bars.SelectMany(bar => bar.Notes).Count(note => note.Part == part && note.IsGrace);
            var written = export.Exact.File.Tracks[part + 1].Events.Where(item => item.IsNoteOn).Select(item => (item.Tick, (int)item.Data1)).ToHashSet();
            Assert.Empty(expected.Except(written));
            Assert.InRange(written.Except(expected).Count(), 0, graces);
        }
    }

    [Theory]
    [MemberData(nameof(Names))]
    public void Of_Tempi_KeepTheFilesTimeWithinTwentyMicroseconds(string name)
    {
        var export = Exports.Of(name);
        Assert.InRange(export.Exact.LargestTempoError, 0, WrittenTempi.MostMicroseconds);
        var timeline = new MidiTimeline(export.Exact.File);
        var lines = Exports.BarTicks(export);
        var seconds = 0.0;
        foreach (var (i, bar) in export.Bars.Index())
        {
            Assert.Equal(seconds, timeline.SecondsAt(lines[i]), 20.001e-6);
            for (var t = 0; t < bar.Tempi.Count; t++)
            {
                var end = t + 1 < bar.Tempi.Count ? bar.Tempi[t + 1].Onset : bar.Length;
                seconds += bar.Tempi[t].Tempo.Seconds(end - bar.Tempi[t].Onset).ToDouble();
            }
        }
    }

    [Theory]
    [MemberData(nameof(Names))]
    public void Of_Channels_NeverHoldAKeyTwiceAndEndEveryNote(string name)
    {
        foreach (var file in new[] { Exports.Of(name).Exact.File, Exports.Of(name).Felt.File })
        {
            var sounding = new Dictionary<(int Channel, int Key), long>();
            var notes = 0;
            foreach (var (_, item) in new MidiTimeline(file).Events)
            {
                if (item.IsNoteOn)
                {
                    Assert.True(sounding.TryAdd((item.Channel, item.Data1), item.Tick), $"{item} sounds already");
                    notes++;
                }
                else if (item.IsNoteOff)
                {
                    Assert.True(sounding.Remove((item.Channel, item.Data1), out var from), $"{item} does not sound");
                    Assert.True(item.Tick > from);
                }
            }

            Assert.Empty(sounding);
            Assert.True(notes > 0);
        }
    }

    [Theory]
    [MemberData(nameof(Names))]
    public void Of_Tracks_AreTheBandsPartsInOrderWithTheirPrograms(string name)
    {
        var export = Exports.Of(name);
        var file = export.Felt.File;
        Assert.Equal(1, file.Format);
        Assert.Equal(export.Band.Chart.Title, file.Tracks[0].Name);
        Assert.Equal(export.Band.Band.Select(part => part.Name), file.Tracks.Skip(1).Select(track => track.Name!));
        Assert.All(file.Tracks[0].Events, item => Assert.True(item.IsMeta));
        foreach (var (part, track) in export.Band.Band.Zip(file.Tracks.Skip(1)))
        {
            var programs = track.Events.Where(item => item.Kind == 0xC0).Select(item => (int)item.Data1).ToList();
            Assert.Equal(part.Instrument.Unpitched ? 0 : part.Instrument.Program, programs[0]);
            Assert.Equal(part.DampedChannel == part.Channel ? 1 : 2, programs.Count);
            Assert.All(track.Events.Where(item => item.IsChannelMessage), item => Assert.Equal(part.Instrument.Unpitched, item.Channel == 9));
            // Note-offs come before note-ons on one tick.
            Assert.All(
                track.Events.Zip(track.Events.Skip(1)).Where(pair => pair.First.Tick == pair.Second.Tick && pair.Second.IsNoteOff),
                pair => Assert.False(pair.First.IsNoteOn));
        }
    }

    [Theory]
    [MemberData(nameof(Names))]
    public void Of_Conductor_SaysEveryMeterKeySectionAndChord(string name)
    {
        var export = Exports.Of(name);
        var lines = Exports.BarTicks(export);
        var track = export.Exact.File.Tracks[0];
        string? meter = null;
        foreach (var (i, bar) in export.Bars.Index())
        {
            var here = track.Events.Where(item => item.Tick == lines[i]).ToList();
            var signature = here.Where(item => item.Data1 == MetaType.TimeSignature).ToList();
            if (bar.Meter.ToString() == meter)
            {
                Assert.Empty(signature);
            }
            else
            {
                meter = bar.Meter.ToString();
                var bytes = Assert.Single(signature).Content.Span;
                Assert.Equal(bar.Meter.Units, bytes[0]);
                Assert.InRange(bar.Meter.Signature.Denominator, 1 << bytes[1], (2 << bytes[1]) - 1);
                Assert.Contains(here, item => item.Data1 == MetaType.Text && item.Text.StartsWith("meter " + meter, StringComparison.Ordinal));
            }

            if (bar.IndexInSection == 0)
            {
                Assert.Contains(here, item => item.Data1 == MetaType.Marker && item.Text == $"[{bar.Section}]");
                Assert.Contains(here, item => item.Data1 == MetaType.Marker && item.Text == bar.Chords[0].Symbol.Text);
            }
        }

        Assert.Contains(track.Events, item => item is { Tick: 0, Data1: MetaType.KeySignature });
        Assert.Contains(track.Events, item => item is { Tick: 0, Data1: MetaType.Text } && item.Text == $"key {export.Band.Chart.Key}");
    }

    [Fact]
    public void Of_WithFeel_EveryNoteComesSoMuchLaterAsItsOffsetSays()
    {
        foreach (var name in new[] { "ferry-lanterns-five", "seam-seven", "five-four-swing" })
        {
            var export = Exports.Of(name);
            var timeline = new MidiTimeline(export.Felt.File);
            var lines = Exports.BarTicks(export);
            var unmatched = 0;
            var moved = 0;
            for (var part = 0; part < export.Band.Band.Count; part++)
            {
                var onsets = export.Felt.File.Tracks[part + 1].Events.Where(item => item.IsNoteOn).ToLookup(item => (int)item.Data1, item => timeline.SecondsAt(item.Tick));
                foreach (var (i, bar) in export.Bars.Index())
                {
                    foreach (var note in bar.Notes.Where(note => note.Part == part))
                    {
                        var tick = lines[i] + (note.Onset / bar.Length * (lines[i + 1] - lines[i])).Numerator;
                        var micro = note.OffsetMicroseconds + note.SpreadMicroseconds;
                        var seconds = timeline.SecondsAt(tick) + (micro / 1e6);
                        // A tick lasts about 25 microseconds at these tempi; doubled notes are left out.
                        unmatched += onsets[note.Key].Any(onset => Math.Abs(onset - seconds) < 26e-6) ? 0 : 1;
                        moved += micro != 0 ? 1 : 0;
                    }
                }
            }

            Assert.True(moved > 500, name);
            Assert.InRange(unmatched, 0, 2);
        }
    }

    [Fact]
    public void Of_Words_AreSyllablesInUtf8WithABlankBehindTheWord()
    {
        // RP-017 (SMF Lyric Meta Event Definition): a space ends a word, a syllable without one continues.
        var export = Exports.OfText("words", ChartTexts.WithTune(2, "notes = \"| D4:2 E4:1 F4:2 | G4:1 A4:2 G4:2 |\"\nwords = [\"Mün-chen é - té _ nah\"]"));
        var tune = export.Exact.File.Tracks.Single(track => track.Name == "concertina");
        var lyrics = tune.Events.Where(item => item.Data1 == MetaType.Lyric && item.IsMeta).ToList();
        Assert.Equal("Mün", lyrics[0].Text);
        Assert.Equal("chen ", lyrics[1].Text);
        Assert.Equal("4DC3BC6E", Convert.ToHexString(lyrics[0].Content.Span));
        Assert.All(lyrics, lyric => Assert.Contains(tune.Events, item => item.IsNoteOn && item.Tick == lyric.Tick));
        var sung = export.Bars.SelectMany(bar => bar.Notes).Where(note => note.Syllable is not null).ToList();
        Assert.Equal(sung.Count, lyrics.Count);
        // Six notes, five syllables: the one under "_" has no event.
        Assert.Equal(12, tune.Events.Count(item => item.IsNoteOn) + lyrics.Count - 1);
    }

    [Fact]
    public void Of_Ramp_WritesEveryStepAndArrivesInTime()
    {
        var export = Exports.OfText("ramp", ChartTexts.WithSection("tempo = \"eighth = 261 to 171 over 6 bars\"\nchords = \"Dm\"\nbars = 40"));
        // Six bars of five eighths, one step per half eighth.
        Assert.InRange(new MidiTimeline(export.Exact.File).Tempi.Count, 60, 90);
        Assert.InRange(export.Exact.LargestTempoError, 0.01, WrittenTempi.MostMicroseconds);
    }

    [Fact]
    public void Of_TempoSlowerThanThreeBytesCanSay_IsRefusedWithItsBars()
    {
        var text = ChartTexts.Top.Replace("eighth = 260", "quarter = 3.5", StringComparison.Ordinal) + "[[section]]\nchords = \"| Dm | C |\"\n";
        var band = new BarComposer(ChartTexts.Chart(text));
        var problem = Assert.Throws<MidiExportException>(() => MidiExport.Of(band));
        Assert.StartsWith("bars 1 to 3: ", Assert.Single(problem.Problems));
    }

    [Fact]
    public void Of_UnitsThatTimeSignaturesCannotSay_AreWrittenInTheNextLongerOneAndSaid()
    {
        var export = Exports.OfText("twelfths", ChartTexts.Top.Replace("5/8 3+2", "7/12 3+2+2", StringComparison.Ordinal) + "[[section]]\nchords = \"| Dm | C |\"\n");
        Assert.Contains(export.Exact.Remarks, remark => remark.StartsWith("bars 1 to 3: 7/12 is written as 7/8", StringComparison.Ordinal));
        Assert.Contains(export.Exact.File.Tracks[0].Events, item => item.Text == "meter 7/12 3+2+2 written as 7/8");
        var lines = Exports.BarTicks(export);
        Assert.Equal(7 * 10_080, lines[2] - lines[1]);
    }

    [Fact]
    public void Of_BandOfManyPlayers_GoesOnAtAnotherPort()
    {
        var parts = string.Concat(Enumerable.Range(0, 12).Select(i => string.Create(
            CultureInfo.InvariantCulture, $"[[part]]\nname = \"p{i}\"\nrole = \"pulse\"\ninstrument = \"bouzouki\"\n")));
        var export = Exports.OfText("many", ChartTexts.Top + parts + "[[section]]\nchords = \"| Dm | C |\"\n");
        var channels = new HashSet<(int Port, int Channel)>();
        foreach (var track in export.Felt.File.Tracks.Skip(1))
        {
            var port = track.Events.Where(item => item is { IsMeta: true, Data1: MetaType.Port }).Select(item => (int)item.Content.Span[0]).SingleOrDefault();
            foreach (var channel in track.Events.Where(item => item.Kind == 0xC0).Select(item => item.Channel))
            {
                Assert.True(channels.Add((port, channel)));
            }
        }

        Assert.Equal(25, channels.Count);
        Assert.DoesNotContain(channels, place => place.Channel == 9 && place.Port > 0);
        Assert.Equal(25, new MidiTimeline(export.Felt.File).ChannelEvents(48_000).Where(item => item.Event.Kind == ChannelEventKind.Program).Select(item => item.Event.Channel).Distinct().Count());
    }

    [Theory]
    [InlineData("{11:8 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1}", 11)]
    [InlineData("{13:8 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1 D4:1}", 13)]
    public void Of_TupletsOfElevenOrThirteen_GetAResolutionThatHoldsThem(string notes, int number)
    {
        var export = Exports.OfText(
            "tuplets", "format = 1\ntitle = \"T\"\nkey = \"D dorian\"\ntempo = \"eighth = 120\"\nmeter = \"8/8 3+3+2\"\n[[section]]\nchords = \"Dm\"\n[section.tune]\nnotes = \"| "
                + notes + " |\"\n");
        Assert.Empty(export.Exact.Remarks);
        Assert.Equal(0, export.Exact.File.Division.Ticks % number);
    }

    [Fact]
    public void Of_TupletsOfManyPrimes_AreRoundedAndSaid()
    {
        var tune = string.Concat(new[] { 11, 13, 17, 19 }.Select(n => $"| {{{n}:8 {string.Concat(Enumerable.Repeat("D4:1 ", n))}}} "));
        var export = Exports.OfText(
            "tuplets", "format = 1\ntitle = \"T\"\nkey = \"D dorian\"\ntempo = \"eighth = 120\"\nmeter = \"8/8 3+3+2\"\n[[section]]\nchords = \"Dm\"\nbars = 4\n[section.tune]\nnotes = \""
                + tune + "|\"\n");
        Assert.Contains("56 notes do not fall on a tick (a quarter has 20160)", Assert.Single(export.Exact.Remarks));
    }
}
