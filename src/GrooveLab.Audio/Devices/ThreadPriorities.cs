using System.Globalization;
using System.Runtime.InteropServices;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// Real-time priority for the calling thread on Linux, where <see cref="Thread.Priority"/> has no effect.
/// </summary>
internal static unsafe partial class ThreadPriorities
{
    // Not above sound servers, which commonly run at 5 to 9 and up: they pass our sound on to the device.
    private const int Priority = 5;

    // sched.h of Linux. Round robin, so that two such threads of equal priority share a core.
    private const int RoundRobin = 2;
    private const int NotInherited = 0x40000000;

    private const int OneThread = 0;
    private const int Preferred = -10;

    // Set in the test programs: several of them run at once and must not starve each other.
    private const string OrdinaryPrecedence = "GrooveLab.OrdinaryPrecedence";

    // sched_param is one int in glibc, and an int followed by reserved space in musl.
    private const int ParameterInts = 16;

    /// <summary>
    /// Requests round-robin scheduling for the rest of this thread's life; threads that it starts do not inherit it. False if the
    /// system or the user's limits do not allow it.
    /// </summary>
    public static bool TryRaiseCurrent()
    {
        if (!OperatingSystem.IsLinux())
        {
            return false;
        }

        try
        {
            var parameters = stackalloc int[ParameterInts];
            new Span<int>(parameters, ParameterInts).Clear();
            parameters[0] = Priority;
            return SetSchedulingParameters(Self(), RoundRobin | NotInherited, parameters) == 0;
        }
        catch (EntryPointNotFoundException)
        {
            return false;
        }
        catch (DllNotFoundException)
        {
            return false;
        }
    }

    /// <summary>
    /// Requests precedence over other programs (a nice value of -10) for all threads of this process and those that they start, for the
    /// rest of its life. A garbage collection stops the audio thread until the collecting thread is done and every other one has stopped;
    /// any of them may be waiting for a core. False if the system, the user's limits or a switch of the process do not allow it.
    /// </summary>
    public static bool TryPreferProcess()
    {
        if (!OperatingSystem.IsLinux() || (AppContext.TryGetSwitch(OrdinaryPrecedence, out var isOrdinary) && isOrdinary))
        {
            return false;
        }

        try
        {
            var all = true;
            // On Linux the nice value is per thread.
            foreach (var task in Directory.EnumerateDirectories("/proc/self/task"))
            {
                all &= uint.TryParse(Path.GetFileName(task), NumberStyles.None, CultureInfo.InvariantCulture, out var thread)
                    && SetNice(OneThread, thread, Preferred) == 0;
            }

            return all;
        }
        catch (Exception problem) when (problem is EntryPointNotFoundException or DllNotFoundException or IOException or UnauthorizedAccessException)
        {
            return false;
        }
    }

    /// <summary>
    /// Runs a short native call with raised priority, so that threads started by the call inherit it; the caller gets its own
    /// priority back.
    /// </summary>
    /// <remarks>
    /// For libraries whose plugins pass the sound on from their own thread: if only the writing thread had raised priority, it
    /// would wait for that one.
    /// </remarks>
    public static int WithInherited(Func<int> call)
    {
        if (!OperatingSystem.IsLinux())
        {
            return call();
        }

        var before = stackalloc int[ParameterInts];
        var raised = stackalloc int[ParameterInts];
        new Span<int>(before, ParameterInts).Clear();
        new Span<int>(raised, ParameterInts).Clear();
        raised[0] = Priority;
        bool isRaised;
        int policy;
        try
        {
            isRaised = GetSchedulingParameters(Self(), &policy, before) == 0
                && SetSchedulingParameters(Self(), RoundRobin, raised) == 0;
        }
        catch (EntryPointNotFoundException)
        {
            return call();
        }

        try
        {
            return call();
        }
        finally
        {
            if (isRaised)
            {
                _ = SetSchedulingParameters(Self(), policy, before);
            }
        }
    }

    [LibraryImport("libc", EntryPoint = "setpriority")]
    private static partial int SetNice(int kind, uint which, int value);

    [LibraryImport("libc", EntryPoint = "pthread_self")]
    private static partial nint Self();

    [LibraryImport("libc", EntryPoint = "pthread_setschedparam")]
    private static partial int SetSchedulingParameters(nint thread, int policy, int* parameters);

    [LibraryImport("libc", EntryPoint = "pthread_getschedparam")]
    private static partial int GetSchedulingParameters(nint thread, int* policy, int* parameters);
}
