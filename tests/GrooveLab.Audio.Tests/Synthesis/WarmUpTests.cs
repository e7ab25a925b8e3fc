using System.Reflection;
using System.Runtime;
using System.Runtime.CompilerServices;
using System.Runtime.Loader;
using GrooveLab.Audio.BuiltInSounds;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.Playback;
using GrooveLab.Audio.Tests.SoundFonts;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>After the warm-up nothing is compiled on the audio thread: compiling one method would take much of a block's time.</summary>
public class WarmUpTests
{
    // Of a compressed bank, the first preset, often a piano of many samples, takes seconds to decode.
    [Fact]
    public void WarmUp_PresetsResolvedAtTheFirstNote_LeavesThoseWithoutNotesAlone()
    {
        var bank = TestBanks.Load(TestBanks.VariedBehindPlainFile());
        var synth = new SoundFontSynth(bank, 48_000, new SoundFontSynthOptions { ResolvesAtFirstNote = true });
        synth.Prepare(0, 1);

        synth.WarmUp();

        Assert.Null(bank.TryGetResolved(bank.FindPreset(0, 0).Preset));
        Assert.Null(bank.TryGetResolved(bank.FindPreset(128, 0).Preset));
        synth.Program(0, 1);
        synth.NoteOn(0, 60, 100);
        Assert.True(synth.ActiveVoices > 0);
    }

    [Fact]
    public void Gain_OfAProgram_LeavesTheOtherPresetsAlone()
    {
        var bank = TestBanks.Load(TestBanks.VariedBehindPlainFile());

        _ = new LevelBalance(bank, () => TestBanks.Load(TestBanks.VariedBehindPlainFile())).Gain(0, 1);

        Assert.Null(bank.TryGetResolved(bank.FindPreset(0, 0).Preset));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Render_AfterWarmUp_CompilesNothing(bool isDry)
    {
        // Other tests have already compiled most methods; freshly loaded assemblies have no compiled code.
        var fresh = new FreshAssemblies();
        var probe = fresh.LoadFromAssemblyName(typeof(WarmUpProbe).Assembly.GetName()).GetType(typeof(WarmUpProbe).FullName!)!;
        var result = ((long Before, long While))probe.GetMethod(nameof(WarmUpProbe.Compiled))!.Invoke(null, [isDry])!;

        Assert.True(result.Before > 100, $"{result.Before} methods compiled before; the assemblies were not fresh");
        Assert.Equal(0, result.While);
    }

    private sealed class FreshAssemblies() : AssemblyLoadContext("fresh")
    {
        protected override Assembly? Load(AssemblyName assemblyName) =>
            assemblyName.Name!.StartsWith("GrooveLab.", StringComparison.Ordinal)
                ? LoadFromAssemblyPath(Path.Combine(AppContext.BaseDirectory, assemblyName.Name + ".dll"))
                : null;
    }
}

/// <summary>Called by <see cref="WarmUpTests"/> in freshly loaded assemblies.</summary>
public static class WarmUpProbe
{
    /// <summary>The number of methods that this thread compiled up to the end of the warm-up, and after it.</summary>
    public static (long Before, long While) Compiled(bool isDry)
    {
        var start = JitInfo.GetCompiledMethodCount(currentThread: true);
        var synth = new SoundFontSynth(
            TestBanks.Load(TestBanks.VariedBehindPlainFile()), 48_000, new SoundFontSynthOptions { MaxVoices = 24, Dry = isDry });
        // Prepared but not selected: the warm-up only has the plain sounds of program 0.
        synth.Prepare(0, 1);
        synth.Prepare(1, 40);
        synth.Prepare(9, 1);
        synth.WarmUp();
        var left = new float[500];
        var right = new float[500];
        // Compile this test's own playing code too.
        Play(new RecordingSynth(), left, right);
        var before = JitInfo.GetCompiledMethodCount(currentThread: true);
        Play(synth, left, right);
        return (before - start, JitInfo.GetCompiledMethodCount(currentThread: true) - before);
    }

    // Optimised at once, because a long-running loop is compiled a second time while it runs.
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private static void Play(ISoundFontSynth synth, float[] left, float[] right)
    {
        for (var note = 0; note < 200; note++)
        {
            var channel = note % 3 == 2 ? 9 : note % 3;
            var key = 36 + (note * 7 % 60);
            if (note % 16 == 0)
                synth.Program(channel, channel == 1 ? 40 : 1);
            synth.NoteOn(channel, key, 1 + (note * 37 % 127));
            synth.Control(channel, 1, note * 5 % 128);
            synth.Control(channel, 7, 90 + (note % 20));
            synth.Control(channel, 64, note % 5 == 0 ? 127 : 0);
            synth.PitchWheel(channel, 8192 + (note * 10));
            synth.ChannelPressure(channel, note % 128);
            synth.KeyPressure(channel, key, note % 128);
            for (var length = 1; length < left.Length; length += 83)
                synth.Render(left.AsSpan(0, length), right.AsSpan(0, length));
            synth.NoteOff(channel, key);
            if (note % 40 == 39)
            {
                synth.Control(channel, 120, 0);
                synth.Control(channel, 123, 0);
                synth.Control(channel, 121, 0);
                for (var rest = 0; rest < 100; rest++)
                    synth.Render(left, right);
            }
        }
        for (var rest = 0; rest < 800; rest++)
            synth.Render(left, right);
    }
}
