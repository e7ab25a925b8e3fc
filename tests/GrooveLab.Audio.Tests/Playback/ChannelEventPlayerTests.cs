using CsCheck;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.SoundFonts;
using GrooveLab.Music.Bars;
using Xunit;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>Messages take effect on their frame, for any buffer sizes.</summary>
public sealed class ChannelEventPlayerTests
{
    [Fact]
    public void Read_AnyMessagesInAnyPieces_TakeEffectOnTheirFrames() =>
        Gen.Select(Gen.Select(Gen.Int[0, 900], Gen.Int[0, 3], Gen.Int[0, 15], Gen.Int[0, 99]).Array[0, 40], Gen.Int[1, 3000].Array[1, 8]).Sample((items, pieces) =>
        {
            var frame = 0L;
            var events = new List<TimedChannelEvent>();
            foreach (var (delta, kind, channel, number) in items)
            {
                frame += delta;
                events.Add(new(frame, new((ChannelEventKind)kind, channel, number, kind == 0 ? 100 : kind == 2 ? 64 : 0)));
            }

            var synth = new RecordingSynth();
            var player = new ChannelEventPlayer(synth, [.. events]);
            for (var i = 0; player.Frame <= frame; i++)
            {
                var piece = pieces[i % pieces.Length];
                Assert.Equal(2 * piece, player.Read(new float[2 * piece]));
            }

            Assert.Equal(
                events.Select(item => (item.Frame, item.Event.Kind.ToString(), item.Event.Channel, item.Event.Number)),
                synth.Calls.Select(call => (call.Frame, Name(call.Kind), call.Channel, call.Key)));
        });

    [Fact]
    public void Read_Pieces_GiveTheSameSound()
    {
        TimedChannelEvent[] events =
        [
            new(3, new(ChannelEventKind.NoteOn, 0, 69, 90)), new(700, new(ChannelEventKind.PitchWheel, 0, 0, 9000)),
            new(1500, new(ChannelEventKind.NoteOn, 1, 72, 90)), new(2501, new(ChannelEventKind.NoteOff, 0, 69, 0)),
        ];
        var whole = Play(events, 5000, 5000);
        Assert.Contains(whole, value => value != 0);
        foreach (var piece in new[] { 1, 64, 441 })
        {
            Assert.Equal(whole, Play(events, 5000, piece));
        }
    }

    [Fact]
    public void Read_MasterVolumeBeforeTheFirstNote_IsInForceAtOnce()
    {
        TimedChannelEvent[] note = [new(0, new(ChannelEventKind.NoteOn, 0, 69, 90))];
        TimedChannelEvent[] quiet = [new(0, new(ChannelEventKind.MasterVolume, 0, 0, 8192)), .. note];
        var full = Play(note, 480, 480);
        var scaled = Play(quiet, 480, 480);

        var factor = 8192 / 16383f * (8192 / 16383f);
        Assert.Contains(full, value => Math.Abs(value) > 0.02);
        Assert.All(full.Zip(scaled), pair => Assert.Equal(pair.First * factor, pair.Second, 1e-6f));
    }

    [Theory]
    [InlineData(16383, 0)]
    [InlineData(8192, -12.04)]
    [InlineData(1638, -40)]
    public void Read_MasterVolume_ScalesEverythingWithoutAStep(int volume, double decibels)
    {
        TimedChannelEvent[] note = [new(0, new(ChannelEventKind.NoteOn, 0, 69, 90))];
        TimedChannelEvent[] quieter = [.. note, new(6000, new(ChannelEventKind.MasterVolume, 0, 0, volume))];
        var full = Play(note, 12_000, 480);
        var scaled = Play(quieter, 12_000, 480);

        Assert.Equal(full[..12_000], scaled[..12_000]);
        var (a, b) = (Level(full[^4800..]), Level(scaled[^4800..]));
        Assert.Equal(decibels, 20 * Math.Log10(b / a), 0.05);
        // The factor, measured where the tone is loud enough, never changes faster than a ramp of ten milliseconds allows.
        var factors = Enumerable.Range(0, full.Length / 2).Where(i => Math.Abs(full[2 * i]) > 0.02).Select(i => (Frame: i, Factor: (double)scaled[2 * i] / full[2 * i])).ToList();
        var steepest = factors.Zip(factors.Skip(1)).Max(pair => Math.Abs(pair.Second.Factor - pair.First.Factor) / (pair.Second.Frame - pair.First.Frame));
        Assert.InRange(steepest, decibels < 0 ? 0.0001 : 0, 1.1 / 480);
        Assert.Equal(scaled, Play(quieter, 12_000, 77));

        static double Level(float[] sound) => Math.Sqrt(sound.Average(value => (double)value * value));
    }

    [Fact]
    public void Read_Percussion_TakesTheChannelsSoundFromThePercussionBank()
    {
        float[] Strike(int channel, params TimedChannelEvent[] before) =>
            Play([.. before, new(64, new(ChannelEventKind.NoteOn, channel, 44, 100))], 4800, 480, TestBanks.Load(TestBanks.VariedFile()));

        static TimedChannelEvent Percussion(int channel, int value) => new(0, new(ChannelEventKind.Percussion, channel, 0, value));

        var drum = Strike(9);
        Assert.Contains(drum, value => value != 0);
        Assert.NotEqual(drum, Strike(3));
        Assert.Equal(drum, Strike(3, Percussion(3, 1)));
        Assert.NotEqual(drum, Strike(9, Percussion(9, 0)));
        Assert.Equal(drum, Strike(9, Percussion(9, 0), new TimedChannelEvent(1, new(ChannelEventKind.Reset, 0, 0, 0))));
    }

    [Fact]
    public void Read_Reset_PutsEveryChannelIntoItsFirstState()
    {
        // Registered parameter 0 is the wheel's range, 1 and 2 the tuning, 126 is mono mode (MIDI 1.0); 99 = 120 selects a SoundFont generator.
        TimedChannelEvent[] spoilt =
        [
            .. Controls((7, 20), (10, 0), (11, 10), (101, 0), (100, 0), (6, 12), (101, 0), (100, 2), (6, 70), (91, 127), (93, 127), (0, 3), (64, 127), (99, 120), (98, 52), (6, 70), (126, 1)),
            new(0, new(ChannelEventKind.PitchWheel, 0, 0, 12_000)),
            new(0, new(ChannelEventKind.Program, 0, 5, 0)),
            new(0, new(ChannelEventKind.NoteOn, 0, 50, 100)),
            new(64, new(ChannelEventKind.Reset, 0, 0, 0)),
        ];
        TimedChannelEvent[] after =
        [
            new(9600, new(ChannelEventKind.NoteOn, 0, 69, 90)), new(9600, new(ChannelEventKind.NoteOn, 0, 76, 90)),
            new(9600, new(ChannelEventKind.PitchWheel, 0, 0, 10_000)),
        ];
        var clean = Play(after, 14_400, 480);
        var reset = Play([.. spoilt, .. after], 14_400, 480);
        Assert.All(reset[(2 * 9000)..(2 * 9600)], value => Assert.Equal(0, value));
        Assert.Equal(clean[(2 * 9600)..], reset[(2 * 9600)..]);
    }

    [Fact]
    public void Constructor_MessagesOutOfOrder_AreRefused() =>
        Assert.Throws<ArgumentException>(() => new ChannelEventPlayer(new RecordingSynth(), [new(5, default), new(4, default)]));

    private static IEnumerable<TimedChannelEvent> Controls(params (int Number, int Value)[] steps) =>
        steps.Select(step => new TimedChannelEvent(0, new(ChannelEventKind.Control, 0, step.Number, step.Value)));

    private static float[] Play(IReadOnlyList<TimedChannelEvent> events, int frames, int piece, SoundFontBank? bank = null)
    {
        var synth = new SoundFontSynth(bank ?? TestBanks.Sine(), TestBanks.Rate, new SoundFontSynthOptions { Dry = true });
        var player = new ChannelEventPlayer(synth, [.. events]);
        var sound = new float[2 * frames];
        for (var at = 0; at < frames; at += piece)
        {
            player.Read(sound.AsSpan(2 * at, 2 * Math.Min(piece, frames - at)));
        }

        return sound;
    }

    private static string Name(CallKind kind) => kind switch
    {
        CallKind.On => nameof(ChannelEventKind.NoteOn),
        CallKind.Off => nameof(ChannelEventKind.NoteOff),
        CallKind.Control => nameof(ChannelEventKind.Control),
        _ => nameof(ChannelEventKind.Program),
    };
}
